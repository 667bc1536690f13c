"""A bench without a wire to it: somebody does what is asked and says what came of it."""

from __future__ import annotations

from ohmwright.circuit import Board
from ohmwright.errors import DataError
from ohmwright.facts import HANDHELD, HeatFinding, LookFinding
from ohmwright.safety import Permit
from ohmwright.usecases.map_board import blank_board


class ByHand:
    """The user's own bench. Fits `usecases.run_test.PracticeBench`, and knows nothing by itself."""

    def __init__(self, name: str = "board") -> None:
        self.meter = HANDHELD
        self.heat_method = "finger"
        self.seed = 0
        self.board: Board = blank_board(name)

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """No meter is joined."""
        raise DataError(
            "No meter is joined to this program.", where=f"{quantity} {red} {black}", hint="type what it shows"
        )

    def feed(self, permit: Permit) -> None:
        """The user has switched it on."""

    def feed_off(self) -> None:
        """The user has switched it off."""

    def discharge(self) -> None:
        """The user has done it."""

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """Only an eye can say."""
        raise DataError("Only you can see the board.", where=", ".join(parts), hint="say what you found")

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        """Only a finger can say."""
        raise DataError("Only you can feel the board.", where=", ".join(parts), hint="say what is warm")

    def take_off(self, part: str) -> None:
        """The user has done it."""

    def refit(self, part: str) -> None:
        """The user has done it."""

    def replace(self, part: str) -> None:
        """The user has done it."""

    def clean(self, part: str) -> None:
        """The user has done it."""

    def reflow(self, part: str) -> None:
        """The user has done it."""

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Only the user can read a label."""
        raise DataError("Only you can read the label.", where=net, hint="say what is printed there")

    def tried(self) -> bool:
        """Only the user can try it."""
        raise DataError("Only you can try the board.", hint="say whether it works")

    def truth(self) -> tuple[str, ...]:
        """Nobody knows."""
        return ()

    def close(self) -> None:
        """Nothing to end."""
