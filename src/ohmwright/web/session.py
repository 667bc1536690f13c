"""One case open in the page: what is due, what the engine thinks of it, and who is told."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from ohmwright import usecases
from ohmwright.api import Case
from ohmwright.errors import CaseConflictError, DataError, OhmwrightError, RefusedError
from ohmwright.usecases.by_hand import ByHand
from ohmwright.usecases.desk import CaseView, Desk, Thought, record, view_of
from ohmwright.usecases.entry_words import value_words
from ohmwright.usecases.map_nets import heard
from ohmwright.usecases.meter_truth import blind_notes
from ohmwright.usecases.near_zero import near_zero
from ohmwright.usecases.one_key import OneKey, one_key_reading
from ohmwright.usecases.plan_round import Meter
from ohmwright.usecases.record_reading import KEYS, parse_quantity_name, reading_entry
from ohmwright.usecases.run_test import PracticeBench, Step, Test, run_step
from ohmwright.usecases.set_feed import permit_for
from ohmwright.web.plain import bench_plain, board_plain, known_plain, plain
from ohmwright.web.twin import Twin

T = TypeVar("T")
NOTHING_DUE, WAIT = "Nothing is due at this moment.", "wait until the next test is worked out"
LEAVE_SAFE = Step("feed off")
"""Due when the case is decided and the board is still fed: nobody walks away from a fed board."""


class CaseSession:
    """A case, a bench, and the test that is being done. All acts go through one lock.

    Parameters
    ----------
    tell : callable
        Told whenever there is news; called from any thread.
    bench : PracticeBench
        A practice bench, or `ohmwright.usecases.by_hand.ByHand` for a bench of the user's own.
    drawn : bool
        Whether the board is one that the user draws on its picture.
    """

    def __init__(
        self, desk: Desk, name: str, bench: PracticeBench, *, resumed: bool = False, drawn: bool = False
    ) -> None:
        self._desk = desk
        self._bench = bench
        self.name, self.seed, self.drawn = name, bench.seed, drawn
        self._by_hand = isinstance(bench, ByHand)
        self.display: Callable[[str], tuple[float | None, str] | None] = lambda quantity: None
        """What a camera sees on the meter's display, if it can be a reading of that quantity."""
        self._lock = threading.RLock()
        self._meter_lock = threading.Lock()
        self.tell: Callable[[], None] = lambda: None
        self._view = view_of(desk, name)
        self._case = Case(desk, self._view)
        self._thought: Thought | None = None
        self._test: Test | None = None
        self._thought_at = self._at = 0
        self._notices: tuple[str, ...] = ()
        self._probe: tuple[str, str, str] | None = None
        self._note = f"Taken up again at event {self._view.sequence}." if resumed else ""
        self._wake = threading.Condition(self._lock)
        self._ended = False
        # What lies on the user's own bench is as the user left it; only a practice board has to follow the case.
        self._twin = None if self._by_hand else Twin(bench)
        if resumed and self._twin is not None:
            self._twin.catch_up(desk, name, frozenset(), fresh=True)
            self._refresh()
        self._thinker = threading.Thread(target=self._think, name="thinking", daemon=True)
        self._thinker.start()

    def close(self) -> None:
        """Stop thinking and end the bench."""
        with self._wake:
            self._ended = True
            self._wake.notify_all()
        self._thinker.join(10)
        self._bench.close()

    # What the page sees.

    def state(self) -> dict[str, Any]:
        """The whole case as the page shows it."""
        with self._lock:
            view, thought = self._view, self._thought
            return {
                "kind": "case", "name": self.name, "sequence": view.sequence, "note": self._note,
                "seed": self.seed, "drawn": self.drawn, "by_hand": self._by_hand,
                "thinking": self._thought_at != view.sequence,
                "board": board_plain(view), "known": known_plain(view, self._case),
                "near_zero": near_zero(view.facts),
                "bench": {**bench_plain(view), **self._meter_words()},
                "diagnosis": None if thought is None else plain(thought.diagnosis),
                "advice": None if thought is None else plain(thought.advice),
                "due": self._due_plain(),
                "probe": self._probe,
            }  # fmt: skip

    def live(self) -> dict[str, Any] | None:
        """What the meter shows at this moment where the probes are, or None where they have no business."""
        if self._by_hand:
            return self._seen()
        with self._lock:
            where = self._probe or self._due_points()
            fed = self._view.facts.state.feed is not None
        if where is None or (fed != (where[0] in ("volts", "supply volts", "supply amps")) and "part" not in where[0]):
            return None
        with self._meter_lock:
            value = self._bench.read(*where)
        quantity, red, black = where
        return {
            "kind": "live", "quantity": quantity, "red": red, "black": black, "value": value,
            "text": value_words(parse_quantity_name(quantity), value),
        }  # fmt: skip

    def _seen(self) -> dict[str, Any] | None:
        """What the camera at the display sees, where a reading is due or asked for."""
        with self._lock:
            where = self._probe or self._due_points()
        found = self.display(where[0]) if where is not None else None
        if where is None or found is None:
            return None
        return {
            "kind": "live", "quantity": where[0], "red": where[1], "black": where[2], "value": found[0],
            "text": value_words(parse_quantity_name(where[0]), found[0]),
        }  # fmt: skip

    @property
    def practice(self) -> PracticeBench | None:
        """The practice bench, to make its board's photo; None at a bench of the user's own."""
        return None if self._by_hand else self._bench

    @property
    def view(self) -> CaseView:
        """The case as it stands."""
        with self._lock:
            return self._view

    @property
    def thought(self) -> Thought | None:
        """What was thought of the case last; None before the first thought."""
        with self._lock:
            return self._thought

    def write_up(self) -> str:
        """The record of the case as Markdown."""
        with self._lock:
            view = self._view
        return usecases.write_up(view)

    def truth(self) -> tuple[str, ...]:
        """What was truly wrong; asked for only once the case is decided."""
        with self._lock:
            if self._thought is None or not self._thought.advice.stop:
                raise RefusedError("The hidden fault is told once the case is decided.", hint="go on with the tests")
        with self._meter_lock:
            return self._bench.truth()

    def use_meter(self, meter: Meter) -> None:
        """Take readings with another meter from now on."""
        self._bench.meter = meter

    # What the page orders.

    def enter(self, seen: int | None, task: Callable[[Desk, str], object]) -> None:
        """Anything else that goes on record, such as an edit of the map; None takes the case as it stands. [1]"""
        with self._act(self.view.sequence if seen is None else seen, keep_test=False):
            task(self._desk, self.name)

    def ask(self, task: Callable[[Desk, str], T]) -> T:
        """Something that is looked up and does not go on record."""
        return task(self._desk, self.name)

    def do_step(self, seen: int, figures: str | None, finding: str | None, parts: tuple[str, ...]) -> None:
        """Carry out the due step."""
        with self._act(seen):
            step = self._due_step()
            if step is None:
                raise DataError(NOTHING_DUE, hint=WAIT)
            try:
                self._carry_out(step, figures, finding, parts)
            except RefusedError as error:
                self._passed_over(error)
            self._at += 1
            if self._test is not None and self._at >= len(self._test.steps):
                self._test, self._at = None, 0

    def take_reading(self, seen: int, quantity: str, red: str, black: str, figures: str | None) -> None:
        """A reading at points of one's own choosing."""
        with self._act(seen, keep_test=True):
            self._take(Step("read", quantity, red, black), figures)
            self._probe = None

    def at_part(self, seen: int, act: str, part: str) -> None:
        """Something done to one part, outside the advice."""
        with self._act(seen, keep_test=False), self._meter_lock:
            run_step(self._desk, self.name, Step(act, parts=(part,)), self._bench)

    def supply(self, seen: int, act: str, wish: tuple[str, str, float, float], reason: str) -> None:
        """Switch the supply, outside the advice."""
        with self._act(seen, keep_test=False):
            if act == "feed":
                self._case.feed(*wish, reason=reason)
                self._follow(self._view.facts.state.off)
                return
            with self._meter_lock:
                run_step(self._desk, self.name, Step(act), self._bench)

    def skip(self, seen: int) -> None:
        """Pass the due test over."""
        with self._act(seen, keep_test=False):
            if self._test is None:
                raise DataError(NOTHING_DUE, hint=WAIT)
            if self._test.gate:
                raise RefusedError("A safety check is not skipped.", hint="do it, and say what came of it")
            usecases.skip(self._desk, self.name, self._test.title)

    def undo(self, seen: int, sequence: int | None) -> None:
        """Take an entry back, by default the last one that counts."""
        with self._act(seen, keep_test=False):
            off = self._view.facts.state.off
            usecases.undo(self._desk, self.name, sequence)
            self._follow(off)

    def amend(self, seen: int, sequence: int, figures: str) -> None:
        """Put the figures of a reading right."""
        with self._act(seen, keep_test=True):
            self._case.amend_value(sequence, figures)

    def probe(self, quantity: str, red: str, black: str) -> None:
        """Put the probes elsewhere; with nothing given, back to the due points."""
        with self._lock:
            if quantity:
                parse_quantity_name(quantity)
                for point in (red, black):
                    self._check_point(point)
            self._probe = (quantity, red, black) if quantity else None
        self.tell()

    # How it is done.

    @contextmanager
    def _act(self, seen: int, *, keep_test: bool = True) -> Iterator[None]:
        """One order: refused if given on old news, then done, then told."""
        try:
            with self._wake:
                self._refuse_old_news(seen)
                try:
                    yield
                finally:
                    if not keep_test or self._at == 0:
                        self._test, self._at = None, 0
                    self._note = ""
                    self._refresh()
                    self._wake.notify_all()
        finally:
            self.tell()

    def _follow(self, off: frozenset[str]) -> None:
        """Bring the practice board to where the case says it is."""
        if self._twin is not None:
            with self._meter_lock:
                self._twin.catch_up(self._desk, self.name, off)

    def _check_point(self, point: str) -> None:
        """Refuse a point that is not on the board; on a drawn map a pad may be on a net nobody knows yet."""
        name, dot, number = point.rpartition(".")
        if self.drawn and dot and name in self._view.board.part_by_name:
            self._view.board.part(name).pin(number)
        else:
            self._view.board.net_at(point)

    def _refuse_old_news(self, seen: int) -> None:
        if seen != self._view.sequence:
            raise CaseConflictError(
                "Not taken: the case went on since this page last heard of it.",
                hint="look at what is due now, then do it again if it still holds",
            )

    def _refresh(self) -> None:
        self._view = view_of(self._desk, self.name)
        self._case = Case(self._desk, self._view)
        self._judge_feed()

    def _carry_out(self, step: Step, figures: str | None, finding: str | None, parts: tuple[str, ...]) -> None:
        if step.act == "read":
            self._take(step, figures)
        elif step.act == "look" and finding:
            self._case.saw(", ".join(parts or step.parts), finding)
        elif step.act == "heat" and finding:
            self._case.warm(", ".join(parts), finding)
        elif step.act == "buzz" and finding:
            heard(self._desk, self.name, step.red, step.black, finding == "beeps")
        elif step.act == "try" and finding:
            self._case.tried(finding == "works")
        else:
            with self._meter_lock:
                run_step(self._desk, self.name, step, self._bench)

    def _take(self, step: Step, figures: str | None) -> None:
        if figures is None:
            with self._meter_lock:
                run_step(self._desk, self.name, step, self._bench)
            return
        outcome = KEYS.get(figures.strip())
        if outcome is OneKey.AS_EXPECTED and self._thought is not None:
            # From what is already thought: thinking again here would keep the hand waiting.
            quantity, facts = parse_quantity_name(step.quantity), self._view.facts
            entry = one_key_reading(
                outcome, quantity, step.red, step.black, self._bench.meter, facts, self._thought.advice
            )
        else:
            entry = reading_entry(
                self._desk, self.name, step.quantity, step.red, step.black, figures, meter=self._bench.meter
            )
        record(self._desk, self.name, entry)

    def _passed_over(self, error: RefusedError) -> None:
        """What safety does not permit is put aside, and said."""
        if self._test is not None:
            usecases.skip(self._desk, self.name, self._test.title)
        self._test = None
        raise error

    def _due_step(self) -> Step | None:
        if self._test is not None and self._at < len(self._test.steps):
            return self._test.steps[self._at]
        fed = self._view.facts.state.feed is not None
        return LEAVE_SAFE if fed and self._settled() and self._decided() else None

    def _due_points(self) -> tuple[str, str, str] | None:
        step = self._due_step()
        return (step.quantity, step.red, step.black) if step is not None and step.act == "read" else None

    def _settled(self) -> bool:
        return self._thought is not None and self._thought_at == self._view.sequence

    def _decided(self) -> bool:
        return self._thought is not None and bool(self._thought.advice.stop)

    def _due_plain(self) -> dict[str, Any] | None:
        step, test = self._due_step(), None if self._test is None else plain(self._test)
        if step is None:
            return None
        return {"test": test, "at": self._at, "step": plain(step), "notices": list(self._notices)}

    def _meter_words(self) -> dict[str, Any]:
        meter = self._bench.meter
        return {
            "meter": meter.name,
            "leads": f"leads {'nulled' if meter.nulled else f'{meter.lead_resistance:g} Ω, not nulled'}",
            "overload": meter.diode_overload, "ohms_overload": meter.ohms_overload,
            "compliance": meter.diode_compliance,
            "blind": blind_notes(meter, self._probe, self._due_step()),
        }

    def _judge_feed(self) -> None:
        """Ask beforehand what a due feed has to be minded for, so that it stands there before the supply is on."""
        step = self._due_step()
        self._notices = ()
        if step is None or step.act != "feed" or step.feed is None:
            return
        try:
            permit, _, _ = permit_for(self._desk, self.name, step.feed)
            self._notices = tuple(notice.text for notice in permit.notices)
        except OhmwrightError as error:
            self._notices = (f"{error.what} {error.hint}",)

    def _think(self) -> None:
        """Think about the case whenever it has changed; the lock is free meanwhile."""
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._ended or self._thought_at != self._view.sequence)
                if self._ended:
                    return
                view = self._view
            try:
                thought: Thought | None = view.thought
            except EOFError:
                return  # the page is closing
            except OhmwrightError as error:
                thought = None
                self._note = f"This could not be thought through: {error.what}"
            with self._wake:
                if view.sequence != self._view.sequence:
                    continue
                self._thought_at = view.sequence
                if thought is not None:
                    self._thought = thought
                    self._begin_test(view)
            self.tell()

    def _begin_test(self, view: CaseView) -> None:
        if self._test is None and not view.advice.stop and view.advice.tests:
            self._test, self._at = view.advice.tests[0], 0
        self._judge_feed()
