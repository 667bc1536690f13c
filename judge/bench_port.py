"""The judge's bench in the place of a user's: with it the program runs through its own door, unaware."""

from __future__ import annotations

from judge.bench import Bench
from ohmwright.facts import HeatFinding, LookFinding, Meter, Quantity
from ohmwright.safety import Permit


class BenchPort:
    """What `ohmwright.usecases.run_test.Bench` asks for, answered by a judge's bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.meter: Meter = bench.meter

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """What the meter or the supply's display shows."""
        return self.bench.read(Quantity(quantity), red, black)

    def feed(self, permit: Permit) -> None:
        """Switch the supply on at what the permit allows."""
        self.bench.feed(permit.feed)

    def feed_off(self) -> None:
        """Switch it off."""
        self.bench.feed_off()

    def discharge(self) -> None:
        """Discharge the board."""
        self.bench.discharge()

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """Inspect parts."""
        finding, found = self.bench.look(parts)
        return found, finding

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        """Feel for heat."""
        finding, found = self.bench.heat(parts)
        return found, finding

    def take_off(self, part: str) -> None:
        """Take a part off."""
        self.bench.take_off(part)

    def refit(self, part: str) -> None:
        """Put the same part back."""
        self.bench.refit(part)

    def replace(self, part: str) -> None:
        """Fit a new part."""
        self.bench.replace(part)

    def clean(self, part: str) -> None:
        """Clean a part or the copper of a net."""
        self.bench.clean(part)

    def reflow(self, part: str) -> None:
        """Melt the joints of a part again."""
        self.bench.reflow(part)

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts, polarity measured, battery off."""
        return self.bench.entry(net)

    def tried(self) -> bool:
        """Whether the board works."""
        return self.bench.try_board()
