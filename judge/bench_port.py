"""The judge's bench in the place of a user's: with it the program runs through its own door, unaware."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager

from judge.bench import Bench
from judge.ledger import Ledger
from ohmwright.facts import HeatFinding, LookFinding, Meter, Quantity
from ohmwright.safety import Permit


class BenchPort:
    """What `ohmwright.usecases.run_test.Bench` asks for, answered by a judge's bench."""

    def __init__(self, bench: Ledger | Bench) -> None:
        self.bench = bench
        self.meter: Meter = bench.meter
        self.heat_method: str = bench.heat_method
        self.spent = 0.0

    @contextmanager
    def _apart(self) -> Iterator[None]:
        """Count what the bench itself takes of this processor, so that nobody blames the policy for it. [s]"""
        began = time.process_time()
        try:
            yield
        finally:
            self.spent += time.process_time() - began

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """What the meter or the supply's display shows."""
        with self._apart():
            return self.bench.read(Quantity(quantity), red, black)

    def feed(self, permit: Permit) -> None:
        """Switch the supply on at what the permit allows."""
        with self._apart():
            self.bench.feed(permit.feed)

    def feed_off(self) -> None:
        """Switch it off."""
        with self._apart():
            self.bench.feed_off()

    def discharge(self) -> None:
        """Discharge the board."""
        with self._apart():
            self.bench.discharge()

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """Inspect parts."""
        with self._apart():
            finding, found = self.bench.look(parts)
        return found, finding

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        """Feel for heat."""
        with self._apart():
            finding, found = self.bench.heat(parts)
        return found, finding

    def take_off(self, part: str) -> None:
        """Take a part off."""
        with self._apart():
            self.bench.take_off(part)

    def refit(self, part: str) -> None:
        """Put the same part back."""
        with self._apart():
            self.bench.refit(part)

    def replace(self, part: str) -> None:
        """Fit a new part."""
        with self._apart():
            self.bench.replace(part)

    def clean(self, part: str) -> None:
        """Clean a part or the copper of a net."""
        with self._apart():
            self.bench.clean(part)

    def reflow(self, part: str) -> None:
        """Melt the joints of a part again."""
        with self._apart():
            self.bench.reflow(part)

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts, polarity measured, battery off."""
        with self._apart():
            return self.bench.entry(net)

    def tried(self) -> bool:
        """Whether the board works."""
        with self._apart():
            return self.bench.try_board()
