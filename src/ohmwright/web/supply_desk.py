"""The supply on the page: joined, fed by a plan, watched by its guard, stopped.

The page is not what keeps the supply safe. The guard is a process of its own (`ohmwright.instruments.feed_guard`): it
switches off by rule, and when this program ends. What it saw stands in a journal, and a page that is started again on
the same case puts that on record.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from ohmwright.bootstrap import asked_instrument, fed_journal, fed_journal_seen, feed_guard
from ohmwright.errors import DataError, InstrumentError
from ohmwright.usecases.guarded_feed import (
    GuardedFeed,
    fed_after,
    held_feed,
    is_on_record,
    label_of,
    left_behind,
    put_on_record,
    rule_lines,
    swept_feed,
    switch_on,
)
from ohmwright.web.session import CaseSession

TELL_EVERY = 0.2
"""Time between two words to the page while the supply is on. [s]"""
DRAWN = 240
"""Points of the live trace that are sent at once. [1]"""
FAREWELL = 12.0
"""How long the end of the page waits for what came of a feed. [s]"""


class SupplyDesk:
    """One supply, and one feed at a time.

    Parameters
    ----------
    session : CaseSession
    cases : Path or None
        The file of the cases: the guard's journal lies beside it.
    """

    def __init__(self, session: CaseSession, cases: Path | None = None) -> None:
        self._session = session
        self.say: Callable[[dict[str, Any]], None] = lambda word: None
        self._journal = fed_journal(cases, session.name)
        self._one = threading.RLock()
        self._address: str = getattr(session.practice, "supply_address", "")
        self._practised = bool(self._address)
        self._family = "practice supply" if self._address else ""
        self._spent: dict[tuple[object, ...], float] = {}
        self._guard: Any = None
        self._fed: GuardedFeed | None = None
        self._stopping = False
        self._watcher: threading.Thread | None = None

    # What the page orders.

    def join(self, address: str) -> dict[str, str]:
        """Join a supply, once it says that it is one whose family is known."""
        with self._one:
            self._refuse_while_on()
            found = asked_instrument(address, "supply")
            self._address, self._family, self._practised = address, found.family, False
        self._tell()
        return {"family": found.family, "identity": found.identity}

    def hold(self, seen: int, net: str, volts: float | None, step: int, seconds: float) -> None:
        """Feed one step of the plan for a rail, guarded. [V], [1], [s]"""
        with self._one:
            self._ready()
            spent = self._spent.get(self._since(net), 0.0)
            self._begin(
                seen, self._session.ask(lambda desk, case: held_feed(desk, case, net, volts, step, seconds, spent))
            )

    def sweep(self, seen: int, net: str, volts: float, limit: float, steps: int) -> None:
        """Go through so many volts up to a setting, each with its permit. [V], [A], [1]"""
        with self._one:
            self._ready()
            self._begin(seen, self._session.ask(lambda desk, case: swept_feed(desk, case, net, volts, limit, steps)))

    def stop(self) -> None:
        """Off, now. It waits for nothing that this program does."""
        guard = self._guard
        if guard is not None:
            self._stopping = True
            guard.ask_off()

    def heat(self, celsius: float) -> None:
        """Tell the guard the hottest place. [°C]"""
        guard = self._guard
        if guard is None:
            raise DataError("No feed is under way.", hint="the temperature counts while the supply is on")
        guard.heat(celsius)

    def warm(self, celsius: float) -> None:
        """The same from a thermal picture; nothing where no feed is under way. [°C]"""
        guard = self._guard
        if guard is not None:
            with suppress(InstrumentError):  # it has gone off meanwhile
                guard.heat(celsius)

    def close(self) -> None:
        """Switch off, and put on record what it came to."""
        self.stop()
        if self._watcher is not None:
            self._watcher.join(FAREWELL)

    def take_up(self) -> str:
        """Put on record what a feed came to whose program was killed; what came of it, or ""."""
        found = fed_journal_seen(self._journal)
        fed = self._session.ask(lambda desk, case: left_behind(desk, case, found))
        if fed is None:
            return ""
        self._session.enter(None, lambda desk, case: put_on_record(desk, case, fed))
        self._fed = fed
        self._journal.unlink(missing_ok=True)
        return fed.words

    def plain(self) -> dict[str, Any]:
        """How the supply stands, as the page shows it."""
        with self._one:
            fed, on = self._fed, self._guard is not None
        word = {
            "kind": "supply", "address": self._address, "family": self._family, "practice": self._practised,
            "on": on, "stopping": on and self._stopping, "feed": None, "rules": [], "last": None, "energy": 0.0,
            "samples": [], "sweep": 0, "ended": "", "tripped": False, "unknown": False, "knee": "",
        }  # fmt: skip
        return word if fed is None else word | _fed_plain(fed, on)

    # How it goes.

    def _ready(self) -> None:
        self._refuse_while_on()
        if not self._address:
            raise InstrumentError("No supply is joined.", hint="give its address first, and have it asked who it is")

    def _since(self, net: str) -> tuple[object, ...]:
        """What energy is counted for: a rail of the board as it is, until something is found on it."""
        facts = self._session.view.facts
        return net, facts.state.unfed, len(facts.heats), len(facts.gradients)

    def _refuse_while_on(self) -> None:
        if self._guard is not None:
            raise DataError("The supply is on.", hint="stop this feed first")

    def _begin(self, seen: int, fed: GuardedFeed) -> None:
        guard = feed_guard(self._address, self._family, self._journal, label_of(self._session.name, fed))
        bench = self._session.practice if self._practised else None
        self._session.enter(seen, lambda desk, case: switch_on(desk, case, fed, guard, bench))
        self._fed, self._guard, self._stopping = fed, guard, False
        self._watcher = threading.Thread(target=self._look_on, args=(guard,), name="supply", daemon=True)
        self._watcher.start()

    def _look_on(self, guard: Any) -> None:
        """Hear the guard until the supply is off, then put on record what came of it."""
        told = 0.0
        try:
            for look in guard.watched():
                with self._one:
                    if self._fed is not None:
                        self._fed = fed_after(self._fed, look)
                        if not is_on_record(self._session.view.facts, self._fed):
                            guard.ask_off()  # the case says that it is off: so it has to be
                if time.monotonic() - told > TELL_EVERY:
                    told = time.monotonic()
                    self._tell()
        finally:
            guard.off()
            self._finish()

    def _finish(self) -> None:
        with self._one:
            fed = self._fed
        try:
            if fed is not None:
                since = self._since(fed.feed.plus)
                self._spent[since] = self._spent.get(since, 0.0) + fed.energy
                self._session.enter(None, lambda desk, case: put_on_record(desk, case, fed))
            self._journal.unlink(missing_ok=True)
        finally:
            with self._one:
                self._guard = None
            self._tell()

    def _tell(self) -> None:
        self.say(self.plain())


def _fed_plain(fed: GuardedFeed, on: bool) -> dict[str, Any]:
    every = max(1, -(-len(fed.samples) // DRAWN))
    shown = fed.samples if every == 1 else (*fed.samples[::every], fed.samples[-1])
    return {
        "feed": asdict(fed.feed), "rules": rule_lines(fed), "energy": fed.energy,
        "last": asdict(fed.samples[-1]) if fed.samples else None,
        "samples": [[s.at, s.volts, s.amps] for s in shown], "sweep": len(fed.sweep),
        "ended": "" if on and not fed.unknown else fed.words, "unknown": fed.unknown,
        "tripped": fed.tripped and (fed.unknown or not on), "knee": "" if on else fed.knee,
    }  # fmt: skip


