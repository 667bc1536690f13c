"""Whether a probe slid to another pad: what tells a slide from a value that settles.

A charge moves one way, at a pace that never grows; a range far too high shows the same value rounded to its own step; a
display that averages lags by a third of a move. What leaves a value that stood still, and is none of these, is another
pad. Two pads that read alike to within the display's own noise are one to it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Sample:
    """What a display shows at one moment.

    Parameters
    ----------
    at : float
        When. [s]
    value : float or None
        In SI units; None where there are no figures.
    overload : bool
        Whether it says OL. No figures and no OL is a blank display, as while a range changes.
    held : bool
        Whether the meter says that it holds an old value.
    step : float
        Smallest step of its present range, in SI units; 0 where nobody knows.
    """

    at: float
    value: float | None
    overload: bool = False
    held: bool = False
    step: float = 0.0


@dataclass(frozen=True, slots=True)
class Rules:
    """When a value counts as stable. Times in seconds.

    Parameters
    ----------
    settle : float
        Shortest stand-still. [s]
    lift : float
        Shortest time in the air after a refusal; a slip is shorter. [s]
    ranges : int
        Readings for which a range that changes may show OL, where air shows OL too. [1]
    away : float
        After less time in the air another value than the one that stood still before is a slip. [s]
    brush : float
        A value that stood for less time than this was a pad brushed on the way. [s]
    readings : int
        Fewest readings in a stand-still. [1]
    share, steps : float
        How far readings of a stand-still may lie apart: as a share of the value, and in steps of the display. [1]
    open_below : float
        Magnitude under which the display means air, for volts; 0 for diode mode and ohms, where air is OL.
    floor : float
        Magnitude below which what stands still does not creep, for diode mode: a capacitor that a milliampere charges
        passes by at 7 mV/s or more up to 0.14 F, and does not look still; and one behind a path of so few ohms, 20 at
        20 mV, has settled in 0.1 s up to 5 mF. 0 where that is not so. SI unit of the quantity.
    skin : float
        Value above which a display that moves may show fingers across the tips, for ohms. [Ω]
    least_step : float
        Taken for the display's step where a sample does not tell. SI unit of the quantity.
    patience : float
        When the hands are told that the value still moves. [s]
    fraction : float
        Share of the time since contact that the display has to have stood still. [1]
    quick, quick_settle : float
        A touch that begins sooner after a value was taken may be a slip of the hand that rests there. It has to stand
        still for longer, and the same value once more is refused. [s]
    rest : float
        Shortest stand-still of such a touch after an air so short that a slip looks the same. [s]
    """

    settle: float = 0.5
    lift: float = 0.3
    ranges: int = 0
    away: float = 0.5
    brush: float = 0.15
    readings: int = 3
    share: float = 0.003
    steps: float = 2.0
    open_below: float = 0.0
    floor: float = 0.0
    skin: float = math.inf
    least_step: float = 1e-3
    patience: float = 2.5
    fraction: float = 0.2
    quick: float = 1.25
    quick_settle: float = 1.2
    rest: float = 1.8


FEW_STEPS = 300.0
"""Fewer steps than a display has in its proper range: a tenth of 6,000 is 600, a tenth of 4,000 is 400. [1]"""
ROUNDED = 1.5
"""Steps by which a value may lie from what a range far too high shows of it: half a step, and one of noise. [1]"""
STARTS = 4
"""Readings within which a meter that tells no step has found its range. [1] estimate"""
CHARGES = 4
"""Moves of one way after which it is a charge: what wanders by chance goes on one way so long once in 8 times. [1]"""
BLENDED = 2
"""Most readings over which a display that averages spreads a jump. [1]"""
PACE = 1.6
"""How many times its pace so far a charge may seem to go: a display that averages lags by up to a third. [1]"""
LAG = 0.15
"""Share of a charge by which a display that averages may show it late halfway: three tenths of a move, of two. [1]"""
ANOTHER = 1.25
"""How many times farther apart than the readings of a stand-still another point's value lies. [1]"""


def slack_of(value: float, step: float, rules: Rules) -> float:
    """How far readings of one stand-still may lie apart, in the SI unit of the value."""
    return max(rules.steps * (step or rules.least_step), rules.share * abs(value)) * (1 + 1e-9)


def creeping(tail: tuple[Sample, ...], rules: Rules) -> bool:
    """Whether a display goes on one way in small steps, as at the end of a charge.

    A slide is over in two readings, or three with one of noise; but before it the display stood still, and a charge
    never quickens: of its way it goes no more in the later half of the time, but for a step of noise.
    """
    figures = [(s.at, s.value) for s in tail if s.value is not None]
    steps = [(later - earlier, now - then) for (then, earlier), (now, later) in pairwise(figures) if later != earlier]
    if len(steps) <= BLENDED or not _one_way([move for move, _ in steps], 0.0):
        return False
    noise = (tail[-1].step or rules.least_step) * (1 + 1e-9)
    (before, length), (last, lasted) = steps[-2:]
    middle = figures[(len(figures) - 1) // 2][1]
    later, sooner = abs(figures[-1][1] - middle), abs(middle - figures[0][1])
    return later <= sooner + noise and abs(last) <= PACE * abs(before) * lasted / length + noise


def slipped(tail: tuple[Sample, ...], sample: Sample, rules: Rules) -> bool:
    """Whether a value that stood still, or moved evenly as a charging rail does, is left at one jump."""
    figures = [(s.at, s.value) for s in tail if s.value is not None]
    if len(figures) < 2 or sample.value is None:
        return False
    if _rounds(tail, sample, rules):
        return False  # the figures to come will tell
    slack, move = slack_of(figures[-1][1], tail[-1].step, rules), sample.value - figures[-1][1]
    move = math.copysign(max(0.0, abs(move) - ROUNDED * max(0.0, sample.step - tail[-1].step)), move)
    (earlier, before), (then, last) = figures[-2:]
    long = [b - a for (_, a), (_, b) in pairwise(figures)]
    if len(long) >= CHARGES and abs(last - figures[0][1]) > slack and _one_way(long, slack / 2):
        moves = long  # a charge seen through the noise of the display
    else:
        figures, moves = figures[-4:], long[-3:]
    rises = last >= figures[0][1]
    evenly = (
        len(moves) >= 2 and abs(last - figures[0][1]) > slack and _one_way(moves, slack / 2 if moves is long else 0.0)
    )
    onward = evenly and (move > 0) == rises  # a charge never turns back
    pace = abs(last - figures[0][1]) / max(then - figures[0][0], 1e-3)
    if abs(last - before) <= slack:
        if then - tail[0].at < rules.brush:
            return False
        # Nor does its pace grow: the next move is no longer than the last, or, seen through noise, than the mean.
        latest = (slack if moves is long and len(long) >= CHARGES else abs(moves[-1])) / max(then - earlier, 1e-3)
        return abs(move) > ANOTHER * slack + (PACE * min(pace, latest) * (sample.at - then) if onward else 0.0)
    if not evenly or (last > rules.skin and not _charges(figures, slack)):
        return False  # nothing is known of it yet, or it wanders, as skin across the tips does
    return abs(move) > 3 * slack + (PACE * pace * (sample.at - then) if onward else 0.0)


def _charges(figures: list[tuple[float, float]], slack: float) -> bool:
    """Whether ohms rise as a charge does: at first no slower than later, but for the lag of an averaging display."""
    (began, low), (middle, found), (ended, high) = figures[0], figures[len(figures) // 2], figures[-1]
    chord = low + (high - low) * (middle - began) / (ended - began)
    return high > low and found >= chord - slack - LAG * (high - low)


def _one_way(moves: list[float], noise: float) -> bool:
    return min(moves) >= -noise or max(moves) <= noise


def told_by(tail: tuple[Sample, ...], sample: Sample, rules: Rules) -> tuple[Sample, ...]:
    """The tail with one more reading; one of a range far too high tells nothing beside another."""
    if not tail or not _rounds(tail, sample, rules):
        return (*tail[-6:], sample)
    step = min(sample.step, tail[-1].step)
    if abs((sample.value or 0.0) - (tail[-1].value or 0.0)) <= slack_of(sample.value or 0.0, step, rules):
        return (*tail[-6:], sample)
    told = bool(sample.step or tail[-1].step)
    if sample.step > tail[-1].step if told else _far_step(sample) > 0.0:
        return tail
    return (replace(tail[0], value=None, step=sample.step), sample)  # since when it has been this point, and no figure


def _rounds(tail: tuple[Sample, ...], sample: Sample, rules: Rules) -> bool:
    """Whether one of two readings is the other, rounded in a range far too high: a jump between them says nothing."""
    before = tail[-1]
    if before.step or sample.step or not rules.ranges:
        coarser = max(before, sample, key=lambda s: s.step)
        step = coarser.step if before.step != sample.step and _is_coarse(coarser) else 0.0
    else:
        found, far = [_far_step(s) for s in tail if s.value is not None], _far_step(sample)
        starts = len(tail) < STARTS and all(found) and not far
        step = min(found) if starts else far if far and not any(found) else 0.0
    return step > 0.0 and abs((sample.value or 0.0) - (before.value or 0.0)) <= ROUNDED * step


def _far_step(sample: Sample) -> float:
    """Step of a range far too high, as the noughts let guess with which a meter that tells no step ends its figures."""
    value = abs(sample.value or 0.0)
    step = next((s for s in (1e4, 1e3, 1e2) if abs(value / s % 1.0) < 1e-9), 0.0)
    return step if value < FEW_STEPS * step else 0.0


def is_rounded(sample: Sample) -> bool:
    """Whether a figure may be one of a range far too high."""
    return _is_coarse(sample) if sample.step else _far_step(sample) > 0.0


def _is_coarse(sample: Sample) -> bool:
    return sample.value is None or abs(sample.value) < FEW_STEPS * sample.step
