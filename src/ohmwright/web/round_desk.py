"""A round: point after point without a hand off the probes. The page speaks and sounds; the capture takes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any, Literal

from fastapi import FastAPI
from pydantic import BaseModel, ConfigDict, Field

from ohmwright.bootstrap import joined_meter
from ohmwright.errors import DataError, InstrumentError, OhmwrightError
from ohmwright.quantities import parse_quantity
from ohmwright.usecases.capture import Capture, Phase, Rules, Sample, Sign, Sound, heard, taken_by_key
from ohmwright.usecases.desk import Desk, record
from ohmwright.usecases.entry_words import value_words
from ohmwright.usecases.foreseen import entry_of, if_taken
from ohmwright.usecases.plan_round import Hump, Meter, Stop, healthy_band, planned_round, round_seconds
from ohmwright.usecases.record_reading import parse_quantity_name
from ohmwright.web.foresight import Foresight
from ohmwright.web.session import CaseSession

EVERY = 0.1
"""Time between two readings, if the meter is as fast. [s]"""
CARRY = 0.7
"""How long the hands of a practice bench take to the next point. [s]"""
AGAIN = 1.5
"""How long those hands stay off a point that was refused: longer than a hand that only slipped. [s]"""
RECENT = 40
"""Readings kept for a key. [1]"""
SOON, LONG = 5, 25
"""Readings of OL after which it is thought about, where it is likely and where it is not. [1]"""
OL_LIKELY = 0.4
"""Share of OL on a sound board from which it is likely. [1]"""
MOST_LEADS = 20.0
"""Leads worse than this are broken. [Ω] common practice, no source"""
RULES = {
    "diode": Rules(least_step=1e-3, floor=0.02),
    "ohms": Rules(least_step=0.1, skin=2e5, ranges=2),
    "volts": Rules(least_step=1e-3, open_below=0.05),
}


class RoundOrder(BaseModel):
    """What the page orders in a round."""

    model_config = ConfigDict(extra="forbid", strict=True)
    act: Literal["begin", "end", "take", "skip", "back", "hold"]
    quantity: Literal["", "diode", "ohms", "volts"] = ""


class JoinOrder(BaseModel):
    """A meter to be joined."""

    model_config = ConfigDict(extra="forbid", strict=True)
    address: Annotated[str, Field(min_length=3, max_length=200)]


class LeadsOrder(BaseModel):
    """What the leads read with their tips together. [Ω]"""

    model_config = ConfigDict(extra="forbid", strict=True)
    ohms: Annotated[str, Field(min_length=1, max_length=20)]
    nulled: bool = False


class RoundDesk:
    """One round at a time.

    Parameters
    ----------
    session : CaseSession
    desk : Desk
        Where the values of the case are kept.
    foresight : Foresight or None
        Told of values that are likely to be taken.
    """

    def __init__(self, session: CaseSession, desk: Desk, foresight: Foresight | None = None) -> None:
        self._session, self._desk, self._foresight = session, desk, foresight
        self.say: Callable[[dict[str, Any]], None] = lambda word: None
        self._one = threading.RLock()
        self._meter: Any = None
        self._own: Meter | None = None
        self._stops: tuple[Stop, ...] = ()
        self._done: list[dict[str, Any]] = []
        self._at = 0
        self._on = self._held = False
        self._capture, self._recent, self._moved = Capture(), (), 0.0
        self._practised: float | None = None
        self._touched = False
        self._likely: float | str | None = None
        self._trouble, self._outages = "", 0
        self._wake = threading.Event()
        self._ended = False

    _recent: tuple[Sample, ...]
    _bands: dict[Stop, Hump | None]

    # What the page orders.

    def join(self, address: str) -> str:
        """Join a meter; the readings of this case are taken with it from now on."""
        meter = joined_meter(address)
        with self._one:
            if self._meter is not None:
                self._meter.close()
            self._meter = meter
            self._session.display, self._own = self._shown, None
        self._session.use_meter(meter.model)
        self._session.tell()
        return str(meter.model.name)

    def own(self, meter: Meter) -> None:
        """Readings from now on are taken with a meter that no line leads to."""
        with self._one:
            if self._meter is not None:
                raise DataError(f"{self._meter.model.name} is joined.", hint="its own description tells of it")
            self._own = meter
        self._session.use_meter(meter)
        self._session.tell()

    def leads(self, text: str, *, nulled: bool) -> None:
        """What the leads read with their tips together; readings from now on carry it, and the belief uses it. [Ω]"""
        ohms = parse_quantity(text)
        if not 0.0 <= ohms <= MOST_LEADS:
            raise DataError(f"Leads of {ohms:g} Ω cannot be used.", hint="clean the tips, hold them together firmly")
        self._own = replace(self._model(), lead_resistance=0.0 if nulled else ohms, nulled=nulled)
        self._session.use_meter(self._own)
        self._session.tell()

    def obey(self, order: RoundOrder) -> None:
        """Begin, end, take by key, skip, go back, hold."""
        with self._one:
            if order.act == "begin":
                self._begin(order.quantity)
            elif not self._on:
                raise DataError("No round is under way.", hint="begin one")
            elif order.act == "end":
                self._finish("")
            elif order.act == "hold":
                self._held = not self._held
                self._capture = Capture()
            elif order.act == "skip":
                self._note("skipped", None)
                self._go_on()
            elif order.act == "back":
                self._back()
            else:
                self._capture, sign = taken_by_key(self._capture, self._recent, self._rules())
                self._heed(sign)
            self._tell()

    def plain(self) -> dict[str, Any]:
        """The round as the page shows it."""
        with self._one:
            stop = self._stop()
            return {
                "kind": "round", "on": self._on, "held": self._held, "at": self._at, "phase": self._capture.phase.value,
                "stops": [{"quantity": s.quantity, "red": s.red, "black": s.black} for s in self._stops],
                "done": list(self._done), "trouble": self._trouble, "seconds": round_seconds(self._stops),
                "stop": None if stop is None else [stop.quantity, stop.red, stop.black],
                "meter": "" if self._meter is None else self._meter.model.name,
                "ready": self._meter is not None or self._session.practice is not None,
            }  # fmt: skip

    def close(self) -> None:
        """End the listening and let the meter go."""
        self._ended = True
        self._wake.set()
        with self._one:
            if self._meter is not None:
                self._meter.close()

    def waits_for_key(self) -> bool:
        """Whether the display has said OL for so long that only a key can take it."""
        with self._one:
            recent = [s for s in self._recent if s.at > self._moved + CARRY]
            return self._on and len(recent) > 8 and all(s.overload for s in recent)

    # How it goes.

    def listen(self) -> None:
        """Hear the meter while a round is on; runs in a thread of its own until `close`."""
        while not self._ended:
            if not (self._on and not self._held):
                self._wake.wait(0.2)
                self._wake.clear()
                continue
            began = time.monotonic()
            try:
                self._hear(self._sample(began))
            except OhmwrightError as error:
                self._say_trouble(error.what)
                time.sleep(0.5)
            time.sleep(max(0.0, EVERY - (time.monotonic() - began)))

    def _begin(self, quantity: str) -> None:
        view = self._session.view
        self._stops, self._done, self._at = planned_round(view, quantity), [], 0
        self._bands = {stop: healthy_band(view, stop) for stop in self._stops}
        if not self._stops:
            raise DataError("There is nothing to read in a round now.", hint="do what stands under Do next first")
        self._on, self._held, self._trouble = True, False, ""
        self._arrive()
        self._wake.set()

    def _arrive(self) -> None:
        """At the next stop: the probes of the case are there, the capture begins anew but for what it took last."""
        stop = self._stop()
        self._recent, self._likely, self._practised, self._touched = (), None, None, False
        self._moved = time.monotonic()
        if stop is None:
            self._finish("The round is done.")
        else:
            self._session.probe(stop.quantity, stop.red, stop.black)

    def _go_on(self) -> None:
        self._at += 1
        self._arrive()

    def _back(self) -> None:
        """Take the last value of the round back and read that point again."""
        last = self._done.pop() if self._done else None
        if last is not None and last["sequence"]:
            self._session.undo(self._session.view.sequence, last["sequence"])
        self._at, self._capture = max(0, self._at - 1), Capture()
        self._arrive()

    def _finish(self, words: str) -> None:
        self._on, self._trouble = False, words
        self._session.probe("", "", "")

    def _stop(self) -> Stop | None:
        return self._stops[self._at] if self._on and self._at < len(self._stops) else None

    def _model(self) -> Meter:
        """The meter that reads."""
        if self._own is not None:
            return self._own
        practice = self._session.practice
        found: Meter = self._meter.model if self._meter else practice.meter if practice else self._desk.meter
        return found

    def _rules(self) -> Rules:
        stop = self._stop()
        return RULES[stop.quantity if stop is not None else "diode"]

    def _sample(self, now: float) -> Sample:
        with self._one:
            stop, meter = self._stop(), self._meter
        if stop is None:
            return Sample(now, None)
        if meter is not None:
            found: Sample = meter.sample(parse_quantity_name(stop.quantity), now)
            if meter.outages != self._outages:
                self._outages = meter.outages
                with self._one:  # what the probes did meanwhile nobody saw
                    self._recent, self._capture = (), Capture(last=self._capture.last)
            return found
        if self._session.practice is None:
            seen = self._session.display(stop.quantity)
            return Sample(now, None) if seen is None else Sample(now, seen[0], overload=seen[0] is None)
        return self._practice_sample(now)

    def _practice_sample(self, now: float) -> Sample:
        """The hands of a practice bench are the program's own: they lift, carry, and touch once."""
        if now - self._moved < CARRY:
            return Sample(now, None, overload=True) if self._rules().open_below == 0.0 else Sample(now, 0.0)
        if not self._touched:
            live = self._session.live() or {}
            self._practised, self._touched = live.get("value"), True
        return Sample(now, self._practised, overload=self._practised is None)

    def _hear(self, sample: Sample) -> None:
        with self._one:
            if not self._on or self._held:
                return
            self._trouble = ""
            self._recent = (*self._recent[-RECENT:], sample)
            before = self._capture.phase
            self._capture, sign = heard(self._capture, sample, self._rules())
            self._foresee()
            if sign is not None:
                self._heed(sign)
            if sign is not None or before != self._capture.phase:
                self._tell()

    def _foresee(self) -> None:
        """What is likely to be taken is thought about before it is."""
        stop, likely = self._stop(), self._capture.likely
        steady_ol = stop is not None and self._rests_on_ol(stop)
        about = "OL" if steady_ol else likely
        if stop is None or about is None or about == self._likely or self._foresight is None:
            return
        self._likely = about
        self._foresight.begin(
            *if_taken(self._desk, self._session.name, stop, None if steady_ol else likely, self._model())
        )

    def _rests_on_ol(self, stop: Stop) -> bool:
        """Whether a key may take OL soon: it is what a sound board shows there, or the display has long said so.

        Probes on their way show OL too; a thought about that would be in the way of the value that comes.
        """
        band = self._bands.get(stop)
        many = SOON if band is not None and band.overload > OL_LIKELY else LONG
        return len(self._recent) >= many and all(s.overload for s in self._recent[-many:])

    def _heed(self, sign: Sign) -> None:
        """Sound it, and store what was taken. It is heard as taken only once it is on the disk."""
        stop = self._stop()
        if sign.sound is Sound.TAKEN and stop is not None:
            text = value_words(parse_quantity_name(stop.quantity), sign.value)
            entry = entry_of(stop.quantity, stop.red, stop.black, sign.value, self._model())
            self._session.enter(None, lambda desk, case: record(desk, case, entry))
            self._note(text, sign.value)
            self._sound(self._tone(stop, sign.value), f"Taken: {text}")
            self._go_on()
        else:
            self._sound("wait" if sign.sound is Sound.WAIT else sign.sound.value, sign.words)
            if sign.sound is Sound.REFUSED:
                self._lift_again()

    def _lift_again(self) -> None:
        """The hands of a practice bench do as they were told: off the point, and onto it again a little later."""
        if self._capture.phase is Phase.LIFT:
            self._moved, self._touched = time.monotonic() + AGAIN - CARRY, False

    def _tone(self, stop: Stop, value: float | None) -> str:
        """In band, out of it, low, or OL."""
        if value is None:
            return "overload"
        band = self._bands.get(stop)
        if band is not None and band.overload < 0.5:
            return "inband" if band.low <= value <= band.high else "low" if value < band.low else "taken"
        return "low" if abs(value) < 0.02 else "taken"

    def _note(self, text: str, value: float | None) -> None:
        taken = text != "skipped"
        sequence = self._session.view.sequence if taken else 0
        self._done.append({"at": self._at, "text": text, "value": value, "sequence": sequence})

    def _shown(self, quantity: str) -> tuple[float | None, str] | None:
        """What the joined meter shows, for the needle."""
        with self._one:
            meter, last = self._meter, self._recent[-1:] if self._on else ()
        wanted = parse_quantity_name(quantity)
        sample: Sample = last[0] if last else meter.sample(wanted, time.monotonic())
        if sample.value is None and not sample.overload:
            return None
        return sample.value, value_words(wanted, sample.value)

    def _say_trouble(self, words: str) -> None:
        with self._one:
            fresh, self._trouble = words != self._trouble, words
            self._capture = Capture(last=self._capture.last)
        if fresh:
            self._sound("refused", words)
            self._tell()

    def _sound(self, name: str, words: str) -> None:
        self.say({"kind": "tone", "tone": name, "words": words})

    def _tell(self) -> None:
        self.say(self.plain())


def round_routes(app: FastAPI, rounds: RoundDesk) -> None:
    """What the page may order and ask of rounds and meters."""

    @app.get("/api/round")
    def state() -> dict[str, Any]:
        return rounds.plain()

    @app.post("/api/round")
    def order(asked: RoundOrder) -> dict[str, Any]:
        rounds.obey(asked)
        return {"ok": True, "sequence": 0}

    @app.post("/api/meter/leads")
    def leads(asked: LeadsOrder) -> dict[str, Any]:
        rounds.leads(asked.ohms, nulled=asked.nulled)
        return {"ok": True, "sequence": 0}

    @app.post("/api/meter")
    def join(asked: JoinOrder) -> dict[str, Any]:
        if "\n" in asked.address:
            raise InstrumentError("An address is one line.")
        return {"ok": True, "sequence": 0, "meter": rounds.join(asked.address)}
