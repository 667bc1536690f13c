"""The judge's bench as the program's own use cases expect one: same hands, same meter, other manners."""

from __future__ import annotations

from judge.ledger import Ledger
from ohmwright.facts import HeatFinding, LookFinding, Meter
from ohmwright.safety import Permit


class Port:
    """What `ohmwright.usecases.run_test` asks of a bench, at a bench that counts."""

    def __init__(self, bench: Ledger) -> None:
        self.bench = bench
        self.meter: Meter = bench.meter

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """What the meter or the supply's display shows."""
        return self.bench.read(quantity, red, black)

    def feed(self, permit: Permit) -> None:
        """Switch the supply on."""
        self.bench.feed(permit.feed)

    def feed_off(self) -> None:
        """Switch it off."""
        self.bench.feed_off()

    def discharge(self) -> None:
        """Discharge the board."""
        self.bench.discharge()

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """Inspect parts; a clean look is a finding about all of them."""
        finding, found = self.bench.look(parts)
        return (parts if finding is LookFinding.NOTHING else found), finding

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
        """Clean a part or a net."""
        self.bench.clean(part)

    def reflow(self, part: str) -> None:
        """Melt the joints again."""
        self.bench.reflow(part)

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts, polarity measured, battery off. [V]"""
        return self.bench.entry(net)

    def tried(self) -> bool:
        """Whether the board works."""
        return self.bench.try_board()
