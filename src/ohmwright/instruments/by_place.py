"""A practice bench reached by where things are on its board's photo, not by their names.

Who draws a board on its picture gives parts their own names. Hands go by place: a probe at a pad of the map
touches what the practice board has there, and a pad that the practice board has nothing at reads open.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from ohmwright.boardmap import Chart
from ohmwright.circuit import Board
from ohmwright.errors import DataError
from ohmwright.facts import HeatFinding, LookFinding
from ohmwright.geometry import Pad, pad_centres
from ohmwright.safety import Permit
from ohmwright.usecases.run_test import PracticeBench

SLACK_MM = 0.3
"""How far beside a pad a probe may be put and still touch it. [mm] common practice, no source"""
ToBoard = Callable[[str, float, float], tuple[float, float]]


class ByPlace:
    """Fits `usecases.run_test.PracticeBench`.

    Parameters
    ----------
    chart : callable
        The drawn map at this moment: its board and its chart.
    to_board : callable
        Side and pixel [px] of the photo to millimetres of the practice board. [mm]
    """

    def __init__(self, bench: PracticeBench, chart: Callable[[], tuple[Board, Chart]], to_board: ToBoard) -> None:
        self._bench, self._chart, self._to_board = bench, chart, to_board
        self.meter, self.seed, self.board = bench.meter, bench.seed, bench.board
        self.heat_method = bench.heat_method
        self._pads = tuple(pad for part in bench.board.parts for pad in pad_centres(part))

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """What the display shows; None for OL, as where a probe touches nothing."""
        there = [self._point(point, quantity) for point in (red, black)]
        if there[0] is None or there[1] is None:
            return None if "volts" not in quantity else 0.0
        return self._bench.read(quantity, there[0], there[1])

    def feed(self, permit: Permit) -> None:
        """Clip on where the map says, at exactly what the permit allows."""
        plus, minus = self._point(permit.feed.plus), self._point(permit.feed.minus)
        if plus is None or minus is None:
            raise DataError("There is nothing to clip to at that place.", hint="look where the pad lies on the photo")
        self._bench.feed(replace(permit, feed=replace(permit.feed, plus=plus, minus=minus)))

    def feed_off(self) -> None:
        """Switch it off."""
        self._bench.feed_off()

    def discharge(self) -> None:
        """Discharge the board."""
        self._bench.discharge()

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """Inspect what lies at those parts of the map."""
        true = self._parts(parts)
        found, finding = self._bench.look(tuple(true))
        return tuple(true[name] for name in found), finding

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        """Feel for heat; what is not on the map has no name to be told by."""
        board, _ = self._chart()
        true = self._parts(parts or tuple(part.name for part in board.parts))
        found, finding = self._bench.heat(tuple(true) if parts else ())
        known = tuple(true[name] for name in found if name in true)
        return known, finding if known else HeatFinding.NOTHING

    def take_off(self, part: str) -> None:
        """Take off what lies there."""
        self._bench.take_off(self._part(part))

    def refit(self, part: str) -> None:
        """Put it back."""
        self._bench.refit(self._part(part))

    def replace(self, part: str) -> None:
        """Fit a new one."""
        self._bench.replace(self._part(part))

    def clean(self, part: str) -> None:
        """Clean around what lies there."""
        self._bench.clean(self._part(part))

    def reflow(self, part: str) -> None:
        """Melt its joints again."""
        self._bench.reflow(self._part(part))

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """What is known of the entry at that copper."""
        point = self._point(net)
        return self._bench.entry(self._bench.board.net_at(point) if point else self._bench.board.ground)

    def tried(self) -> bool:
        """Whether the board works."""
        return self._bench.tried()

    def truth(self) -> tuple[str, ...]:
        """What is truly faulty, by the names of the map where it is on it."""
        board, _ = self._chart()
        own = {true: name for part in board.parts for true, name in self._found((part.name,))}
        return tuple(f"{own[name]} ({name} on the maker's drawing)" if name in own else f"{name}, not on your map"
                     for name in self._bench.truth())  # fmt: skip

    def close(self) -> None:
        """End the bench."""
        self._bench.close()

    def _point(self, point: str, quantity: str = "") -> str | None:
        """A pad of the practice board for a pad or a net of the map, or None where there is nothing."""
        board, chart = self._chart()
        name, _, number = point.rpartition(".")
        if point in board.net_by_name:
            wanted = {(part.name, pin.number) for part, pin in board.pins_on[point]}
        else:
            wanted = {(name, number)}
        for pad in chart.pads:
            if (pad.part, pad.pin) in wanted and (true := self._under(pad, chart)) is not None:
                return f"{true.part}.{true.pin}"
        return None

    def _under(self, pad: Pad, chart: Chart) -> Pad | None:
        """The pad of the practice board that lies under a pad of the map."""
        layer = next((layer for layer in chart.layers if layer.side == pad.side), None)
        if layer is None:
            return None
        x, y = self._to_board(pad.side, *layer.to_board.inverse.at(pad.x_mm, pad.y_mm))
        near = [
            true for true in self._pads
            if true.side == pad.side and max(abs(true.x_mm - x), abs(true.y_mm - y))
            <= max(true.width_mm, true.height_mm) / 2 + SLACK_MM
        ]  # fmt: skip
        return min(near, key=lambda true: (true.x_mm - x) ** 2 + (true.y_mm - y) ** 2, default=None)

    def _part(self, name: str) -> str:
        found = self._parts((name,))
        if not found:
            raise DataError(f"The practice board has nothing where {name} is.", hint="look where it lies on the photo")
        return next(iter(found))

    def _parts(self, names: Iterable[str]) -> dict[str, str]:
        """True names of parts of the map, with the map's."""
        return dict(self._found(names))

    def _found(self, names: Iterable[str]) -> Iterator[tuple[str, str]]:
        _, chart = self._chart()
        for name in names:
            under = Counter(true.part for pad in chart.pads_of(name) if (true := self._under(pad, chart)) is not None)
            if under:
                yield under.most_common(1)[0][0], name
