"""One board on one bench. All luck hangs on the case and on what is asked, so every policy meets the same."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from judge.world import Case, Fault
from ohmwright.circuit import BoardState, Feed
from ohmwright.facts import HeatFinding, LookFinding, Meter, Quantity


@dataclass(frozen=True, slots=True)
class Violation:
    """Something that hurts people or boards. `rule` is one of `judge.bench.RULES`."""

    rule: str
    words: str


class Bench:
    """The bench of one case.

    Points are nets or ``PART.PIN``. Names that are not on the board raise ``KeyError``; acts that cannot be
    done (to take off what is off) raise ``ValueError``.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.state = BoardState()
        self.violations: list[Violation] = []
        self.meter: Meter = case.meter
        self.charged = False

    def read(self, quantity: Quantity, red: str, black: str) -> float | None:
        """What the meter (or the supply's display) shows in the present state; None for OL."""
        raise NotImplementedError

    def true_reading(
        self,
        quantity: Quantity,
        red: str,
        black: str,
        faults: tuple[Fault, ...] | None = None,
        state: BoardState | None = None,
    ) -> float | None:
        """The same without noise, lead and contact errors; under other faults or in an earlier state if told."""
        raise NotImplementedError

    def read_sd(self, quantity: Quantity, value: float | None) -> float:
        """Standard deviation that meter, leads and contact together have about a true value. [unit]"""
        raise NotImplementedError

    def look(self, parts: Iterable[str]) -> tuple[LookFinding, tuple[str, ...]]:
        """Inspect parts: the gravest finding and the parts that show it."""
        raise NotImplementedError

    def feed(self, feed: Feed) -> None:
        """Switch the supply on."""
        raise NotImplementedError

    def feed_off(self) -> None:
        """Switch it off; the board keeps its charge."""
        raise NotImplementedError

    def discharge(self) -> None:
        """Discharge the board."""
        raise NotImplementedError

    def heat(self, parts: Iterable[str] = ()) -> tuple[HeatFinding, tuple[str, ...]]:
        """Feel for heat, everywhere or at some parts only."""
        raise NotImplementedError

    def take_off(self, part: str) -> None:
        """Take a part off: its load goes with it, and sometimes a pad (`PAD_DAMAGE`)."""
        raise NotImplementedError

    def refit(self, part: str) -> None:
        """Put the same part back."""
        raise NotImplementedError

    def replace(self, part: str) -> None:
        """Fit a new healthy part."""
        raise NotImplementedError

    def clean(self, target: str) -> None:
        """Clean at a part or a net: dirt goes."""
        raise NotImplementedError

    def reflow(self, part: str) -> None:
        """Melt a part's joints again: bad joints are cured."""
        raise NotImplementedError

    def read_loose(self, part: str, pin_a: str, pin_b: str, quantity: Quantity) -> float | None:
        """Read a part that is off by itself, red on `pin_a`."""
        raise NotImplementedError

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts of a power entry [V], whether the polarity is measured, whether the battery is off."""
        raise NotImplementedError

    def try_board(self) -> bool:
        """Whether the board works now."""
        raise NotImplementedError

    @property
    def remaining(self) -> tuple[Fault, ...]:
        """The faults still on the board (truth, for the metrics only)."""
        raise NotImplementedError

    def close(self) -> None:
        """Give back the simulator."""


