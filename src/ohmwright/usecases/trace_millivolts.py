"""Millivolts along copper: where they point, with its error, where to read next, and whether this meter can tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ohmwright.casebook.events import GradientRecorded
from ohmwright.casebook.fold import Casebook
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.evidence.gradient import sinks_of
from ohmwright.facts import CopperShape, Gradient, GradientPoint, Run
from ohmwright.facts.gradient import Point
from ohmwright.fields.layout import layout_of
from ohmwright.fields.next_point import MOST_CURRENT, Outlook, next_points, outlook
from ohmwright.fields.pointing import Pointing, pointing_of
from ohmwright.geometry import pad_centres
from ohmwright.quantities import format_quantity
from ohmwright.usecases.copper_checks import check_copper
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.record_heat import ended_feed

WANTED_MM = {1: 3.0, 2: 8.0}
"""Error at which a part can be told from the next but one: along a trace, over an area. [mm] estimate"""
MOST_VOLTS = 60.0
CAUTIONS = (
    "Set the volts with the leads open and the current limit with the leads shorted, before the clips go on; never "
    "above the lowest rated net that is joined.",
    f"Not above {MOST_CURRENT:g} A: leads, vias and connectors get hot. Supply off while the clips are moved.",
    "Never raise the limit to burn a short out: it hides the fault and can burn a layer inside the board.",
)
SQUARE = 0.5e-3
"""Of copper of 35 µm. [Ω] IEC 60028 over thickness"""
MISFIT = 0.01
"""Readings that fit worse than this share of all that belong to the copper as drawn do not belong to it. [1]"""
ELSEWHERE = 0.15
"""That the current leaves through something that is not on the map, before anything is read. [1] estimate"""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part the current may leave through. [1]"""

    name: str
    probability: float


@dataclass(frozen=True, slots=True)
class NextPoint:
    """Where to read next, and what it would tell. [mm], [bit]"""

    x_mm: float
    y_mm: float
    bits: float
    at: str = ""


@dataclass(frozen=True, slots=True)
class Traced:
    """Where the millivolts point.

    Parameters
    ----------
    x_mm, y_mm : float
        The middle of where it may be; nan before two readings. [mm]
    ellipse : (float, float, float)
        Half axes and the turn of the longer one: it holds 95 of 100. [mm], [deg]
    radius_mm : float
        Of a circle as large as the smallest part of the copper that holds 95 of 100. [mm]
    cells : tuple of (x, y, half width, half height)
        That part of the copper. [mm]
    fits : float
        How often readings would fit no better if the copper is as drawn. [1]
    verdict : str
        Whether this meter at this current can tell, and what it would need.
    """

    x_mm: float
    y_mm: float
    ellipse: tuple[float, float, float]
    radius_mm: float
    cells: tuple[tuple[float, float, float, float], ...]
    square_ohms: tuple[float, float]
    fits: float
    parts: tuple[Candidate, ...]
    elsewhere: float
    next_points: tuple[NextPoint, ...]
    verdict: str
    words: str
    cautions: tuple[str, ...] = CAUTIONS


@dataclass(frozen=True, slots=True)
class Told:
    """A measurement as it is typed and clicked.

    Parameters
    ----------
    traces : tuple of lines of (float, float)
        Corners of each trace [mm], with their `widths` in any one unit; empty for an area.
    outline, holes : tuple
        Corners of the area and of its holes. [mm]
    ounces : float
        Copper, in ounces per square foot: 1 is 35 µm.
    source, black : (float, float)
        Where the current goes in; where the black probe stands, None for elsewhere. [mm]
    current, step : float
        [A], [V]
    points : tuple of (x, y, volts, pad)
        [mm], [V]
    """

    net: str
    traces: tuple[tuple[Point, ...], ...]
    widths: tuple[float, ...]
    outline: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...]
    ounces: float
    source: Point
    black: Point | None
    current: float
    step: float
    points: tuple[tuple[float, float, float, str], ...] = ()
    contact_mm: float = 0.3
    differenced: bool = False

    @property
    def gradient(self) -> Gradient:
        """The same as the engine has it."""
        runs = []
        for n, line in enumerate(self.traces):
            width = self.widths[n] if n < len(self.widths) else 1.0
            runs += [Run(a, b, width) for a, b in pairwise(line) if a != b]
        shape = CopperShape(tuple(runs), self.outline, self.holes, SQUARE / self.ounces)
        points = tuple(GradientPoint(x, y, volts, at) for x, y, volts, at in self.points)
        return Gradient(
            self.net, shape, self.source, self.current, points, self.black, self.step, self.contact_mm,
            offset=1e-6 if self.differenced else 5e-6, differenced=self.differenced,
        )  # fmt: skip


def with_pads(book: Casebook, gradient: Gradient) -> Gradient:
    """The measurement with the pads of its net and where they lie, as far as the map knows."""
    board = book.board
    if gradient.net not in board.net_by_name:
        raise UnknownNameError.among("net", gradient.net, board.net_by_name)
    on = {f"{part.name}.{pin.number}" for part, pin in board.pins_on[gradient.net]}
    known = book.chart.pads or tuple(pad for part in board.parts if part.place is not None for pad in pad_centres(part))
    pads = tuple((f"{pad.part}.{pad.pin}", pad.x_mm, pad.y_mm) for pad in known if f"{pad.part}.{pad.pin}" in on)
    return replace(gradient, pads=pads, state=book.facts.state)


def traced(book: Casebook, gradient: Gradient) -> Traced:
    """Where the readings point; before two readings only what can be expected of them."""
    gradient = with_pads(book, gradient)
    check_copper(gradient)
    feed = book.facts.state.feed
    if feed is not None and feed.volts > MOST_VOLTS:
        raise DataError(
            f"A feed of {feed.volts:g} V.",
            why="above 60 V DC this is no work for two probes in two hands",
            hint="feed a volt or less",
        )
    names, spots = sinks_of(book.board, gradient)
    middles = spots.mean(axis=1) if names else np.empty((0, 2))
    spread = _spread_points(gradient, middles)
    read = np.array([p.where for p in gradient.points]).reshape(-1, 2)
    enough = read if len(read) >= 4 else spread[:12]
    ahead = outlook(gradient, enough, WANTED_MM[layout_of(gradient.copper).dimensions])
    if len(gradient.points) < 2:
        first = tuple(NextPoint(float(x), float(y), 0.0, _named(x, y, names, middles)) for x, y in spread[:4])
        nothing = (float("nan"), float("nan"), float("nan"))
        words = "Read at two points or more: the first ones far apart, black always at the same place."
        return Traced(
            nothing[0],
            nothing[1],
            nothing,
            nothing[0],
            (),
            nothing[:2],
            1.0,
            (),
            1.0,
            first,
            _verdict(gradient, ahead),
            words,
        )
    pointing = pointing_of(gradient)
    step = max(1, len(pointing.cells.at[pointing.region]) // 24)
    # What more readings give is asked of where the current may leave, not of the whole copper.
    ahead = outlook(
        gradient,
        np.concatenate((read, spread[:4])),
        WANTED_MM[pointing.bench.layout.dimensions],
        pointing.cells.at[pointing.region][::step],
    )
    found, rest = _parts(pointing, names, spots)
    best = next_points(pointing, spread)[:4]
    points = tuple(NextPoint(w.x_mm, w.y_mm, w.bits, _named(w.x_mm, w.y_mm, names, middles)) for w in best)
    mean, region = pointing.mean, pointing.region
    cells = tuple(
        (float(x), float(y), abs(float(u)), abs(float(v)))
        for (x, y), (u, v) in zip(pointing.cells.at[region], pointing.cells.half[region], strict=True)
    )
    return Traced(
        float(mean[0]), float(mean[1]), pointing.ellipse, pointing.radius_mm, cells[:1500], pointing.square_ohms,
        pointing.odds_of_fit, found, rest, points, _verdict(gradient, ahead, pointing), _words(pointing),
    )  # fmt: skip


def _spread_points(gradient: Gradient, middles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where red could go: the parts of the net, and points all over the copper, the farthest apart first."""
    layout = layout_of(gradient.copper)
    cells = layout.cells(48).at
    every = np.concatenate((layout.nearest(middles), cells)) if len(middles) else cells
    chosen = [int(np.argmax(np.hypot(*(every - np.array(gradient.source)).T)))]
    far = np.hypot(*(every - every[chosen[0]]).T)
    while len(chosen) < min(len(every), 60):
        chosen.append(int(np.argmax(far)))
        far = np.minimum(far, np.hypot(*(every - every[chosen[-1]]).T))
    return np.asarray(every[chosen])


def _named(x: float, y: float, names: Sequence[str], middles: NDArray[np.float64]) -> str:
    if not len(middles):
        return ""
    far = np.hypot(*(middles - np.array([x, y])).T)
    return names[int(np.argmin(far))] if float(far.min()) < 1.5 else ""


def _parts(pointing: Pointing, names: Sequence[str], spots: NDArray[np.float64]) -> tuple[tuple[Candidate, ...], float]:
    if not names:
        return (), 1.0
    ratio = pointing.log_ratio(pointing.bench.layout.nearest(spots.reshape(-1, 2))).reshape(len(names), -1)
    each = (np.logaddexp.reduce(ratio, axis=1) - np.log(ratio.shape[1])) / pointing.strain
    worth = np.exp(np.minimum(each, 600.0)) * (1.0 - ELSEWHERE) / len(names)
    total = float(worth.sum()) + ELSEWHERE
    order = np.argsort(-worth, kind="stable")[:8]
    return tuple(Candidate(names[n], float(worth[n]) / total) for n in order.tolist()), ELSEWHERE / total


def _words(pointing: Pointing) -> str:
    fits = pointing.odds_of_fit
    long, short, _ = pointing.ellipse
    flat = pointing.bench.layout.dimensions == 2
    near = f"inside the ellipse, {long:.1f} mm to either side of its middle"
    near += f" along it and {short:.1f} mm across" if flat else ""
    told = f"The current leaves the copper {near}, in 95 of 100 such cases."
    if fits < MISFIT:
        return (
            f"{told} But the readings do not fit this copper (so badly in {fits:.2%} of cases): a hole, a layer or "
            "a via is not drawn, or one reading is wrong. Do not trust the mark."
        )
    return told


def _verdict(gradient: Gradient, ahead: Outlook, pointing: Pointing | None = None) -> str:
    step, amps = format_quantity(gradient.resolution, "V"), format_quantity(abs(gradient.current), "A")
    if pointing is not None and pointing.odds_of_fit < MISFIT:
        return "Do not trust this: the readings do not fit the copper as drawn."
    if pointing is not None and pointing.ellipse[0] <= WANTED_MM[pointing.bench.layout.dimensions]:
        return f"Steps of {step} at {amps} are enough: {pointing.ellipse[0]:.1f} mm either way."
    if pointing is not None and ahead.enough:
        so_far = f"Not there yet: {pointing.ellipse[0]:.0f} mm either way"
        return f"{so_far}. Steps of {step} at {amps} can do it: read at the next point."
    if ahead.enough:
        return f"Steps of {step} at {amps} are enough: about {ahead.radius_mm:.1f} mm can be expected of these points."
    needs = []
    if ahead.current is not None:
        needs.append(f"{format_quantity(ahead.current, 'A', 2)} where the board allows it")
    if ahead.resolution is not None:
        needs.append(f"a meter with steps of {format_quantity(ahead.resolution, 'V', 2)}")
    if not needs:
        needs.append("more points nearer to each other: neither current nor meter alone will do")
    hopeless = "Hopeless" if ahead.radius_mm > 40.0 else "Not good enough"
    best = f"no better than {ahead.radius_mm:.0f} mm"
    return f"{hopeless} with steps of {step} at {amps}: {best}. You need {' or '.join(needs)}."


def trace_now(desk: Desk, case: str, gradient: Gradient) -> Traced:
    """Where the readings point, without putting them on record."""
    return traced(book_of(desk, case), gradient)


def take_millivolts(desk: Desk, case: str, gradient: Gradient, *, expected: int | None = None) -> CaseView:
    """Put readings along copper on record."""
    if len(gradient.points) < 2:
        raise DataError("One reading along copper says nothing.", hint="read at two points or more")
    book = book_of(desk, case)
    measured = with_pads(book, gradient)
    check_copper(measured)
    entry = GradientRecorded(replace(measured, state=type(measured.state)()), ended_feed(book.facts))
    return thought_through(desk, case, record(desk, case, entry, expected=expected))
