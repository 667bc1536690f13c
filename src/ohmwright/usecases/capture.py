"""A value taken by itself once it is stable after contact: hands stay on the probes, eyes on the board.

A pure state machine over what a display shows, sample by sample; time comes with the samples. A value is taken when the
display has stood still for the last fifth of the time since contact, and never for less than `Rules.settle`. That rule
has no time constant in it, so it holds for a rail that charges through any capacitor: with
:math:`v = v_0 (1 - e^{-t/T})` the change over the last share :math:`f` of the time is a share of about :math:`f` of the
value itself while :math:`t < T`, far above what counts as still; and once it is below that share :math:`s`, at
:math:`t = T \\ln(1/s) / (1 - f)`, what is still to come, :math:`s / (e^{f t / T} - 1)`, is smaller than :math:`s`.
A display cannot tell a probe on a point that reads OL from a probe in the air, so OL is taken only by a key.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
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


class Phase(StrEnum):
    """What the machine waits for."""

    LIFT = "lift"
    """The probes have to come off first: what is shown belongs to the point before, or is spoilt."""
    OPEN = "open"
    """The probes are in the air."""
    TOUCHING = "touching"


class Sound(StrEnum):
    """What the hands are told."""

    CONTACT = "contact"
    TAKEN = "taken"
    REFUSED = "refused"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class Sign:
    """Something to be heard, and why."""

    sound: Sound
    words: str = ""
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Rules:
    """When a value counts as stable. Times in seconds.

    Parameters
    ----------
    settle : float
        Shortest stand-still. [s]
    lift : float
        Shortest time in the air after a refusal; a slip is shorter. [s]
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
    """

    settle: float = 0.5
    lift: float = 0.3
    away: float = 0.5
    brush: float = 0.15
    readings: int = 3
    share: float = 0.003
    steps: float = 2.0
    open_below: float = 0.0
    skin: float = math.inf
    least_step: float = 1e-3
    patience: float = 3.0
    fraction: float = 0.2
    quick: float = 1.25
    quick_settle: float = 1.2


@dataclass(frozen=True, slots=True)
class Capture:
    """Where the machine stands.

    Parameters
    ----------
    run : tuple of Sample
        Readings since then, of one range.
    tail : tuple of Sample
        The latest readings of this touch, kept over a short air: what the next one is compared with.
    began : float
        When the touch began, bounces and slips included. [s]
    answered : float
        When the hands last heard that a value is taken or refused. [s]
    open_at : float
        The latest reading in the air. [s]
    air : float or None
        Since when the display has shown air in a touch that is not over. [s]
    told : bool
        Whether the hands were told that it takes long.
    last : Sample or None
        What was taken before.
    quick : bool
        Whether this touch came soon after it.
    spoilt : bool
        Whether the probes have to be off for `Rules.lift` before anything counts: at the start, and after a refusal.
    """

    phase: Phase = Phase.LIFT
    run: tuple[Sample, ...] = ()
    tail: tuple[Sample, ...] = ()
    began: float = 0.0
    answered: float = -math.inf
    open_at: float = 0.0
    air: float | None = None
    told: bool = False
    last: Sample | None = None
    quick: bool = False
    spoilt: bool = True

    @property
    def touching(self) -> bool:
        """Whether the probes touch something."""
        return self.phase is Phase.TOUCHING

    @property
    def likely(self) -> float | None:
        """The value that will be taken if the display goes on standing still; None where nothing is likely yet."""
        return self.run[-1].value if self.phase is Phase.TOUCHING and len(self.run) >= 2 else None


def heard(capture: Capture, sample: Sample, rules: Rules) -> tuple[Capture, Sign | None]:
    """The machine after one more sample, and what the hands are told."""
    if sample.held:
        sign = Sign(Sound.REFUSED, "the meter is on hold: release it") if capture.phase is not Phase.LIFT else None
        return Capture(last=capture.last, answered=sample.at), sign
    if _is_air(sample, rules):
        return _in_the_air(capture, sample, rules), None
    if sample.value is None:
        return capture, None  # a blank display says nothing
    if capture.phase is Phase.LIFT and (capture.air is None or capture.spoilt):
        return replace(capture, air=None), None
    if capture.phase is not Phase.TOUCHING:
        begun = _contact(capture, sample, rules)
        return begun, Sign(Sound.CONTACT) if begun.touching else Sign(Sound.REFUSED, SLIPPED)
    return _touched(capture, sample, rules)


def taken_by_key(capture: Capture, recent: tuple[Sample, ...], rules: Rules) -> tuple[Capture, Sign]:
    """What a key or a pedal takes: OL too, if the display has stood still.

    Parameters
    ----------
    recent : tuple of Sample
        The latest samples, whatever they show.
    """
    last = recent[-1] if recent else None
    if last is None or last.held or (last.value is None and not last.overload):
        return capture, Sign(Sound.REFUSED, "the display shows nothing that could be taken")
    window = tuple(s for s in recent if s.at >= last.at - rules.settle)
    same = all(s.overload == last.overload and not s.held and (s.overload or s.value is not None) for s in window)
    if len(window) < 2 or not same or (last.value is not None and not _still(window, rules)):
        return capture, Sign(Sound.REFUSED, "the display does not stand still")
    words = "OL" if last.overload else ""
    return Capture(last=last, spoilt=False, answered=last.at), Sign(Sound.TAKEN, words, last.value)


def _is_air(sample: Sample, rules: Rules) -> bool:
    return sample.overload or (sample.value is not None and abs(sample.value) < rules.open_below)


def _in_the_air(capture: Capture, sample: Sample, rules: Rules) -> Capture:
    """Air for less than `Rules.lift` is a bounce or a slip; the touch goes on after it."""
    air = sample.at if capture.air is None else capture.air
    if capture.phase is Phase.OPEN:
        return replace(capture, open_at=sample.at)
    if sample.at - air >= rules.lift:
        return replace(capture, phase=Phase.OPEN, open_at=sample.at, run=(), air=air)
    if capture.phase is Phase.TOUCHING:
        return replace(capture, run=(), air=air)
    return replace(capture, air=air)


def _contact(capture: Capture, sample: Sample, rules: Rules) -> Capture:
    """A touch begins. One so soon after another may be the same hand that slipped."""
    last, away = capture.last, capture.open_at - (sample.at if capture.air is None else capture.air)
    quick = sample.at - capture.answered < rules.quick
    tail = capture.tail if away < rules.away and not _rested(capture, rules) else ()
    if _slipped(tail, sample, rules):
        return Capture(last=last, answered=sample.at)
    return Capture(
        Phase.TOUCHING, (sample,), _told(tail, sample), capture.began if tail else sample.at, capture.answered,
        last=last, quick=quick,
    )  # fmt: skip


def _rested(capture: Capture, rules: Rules) -> bool:
    """Whether what stood still last is the point that was taken: the hand rested there, and now goes on."""
    before, found = capture.last, capture.tail[-1].value if capture.tail else None
    if not capture.quick or before is None or before.value is None or found is None:
        return False
    return abs(found - before.value) <= ANOTHER * _slack(before.value, before.step, rules)


def _touched(capture: Capture, sample: Sample, rules: Rules) -> tuple[Capture, Sign | None]:
    """One more reading while the probes touch."""
    if _slipped(capture.tail, sample, rules):
        return Capture(last=capture.last, answered=sample.at), Sign(Sound.REFUSED, SLIPPED)
    ranged = capture.run and sample.step != capture.run[-1].step
    now = replace(capture, run=(sample,) if ranged else _grown(capture.run, sample), air=None)
    now = replace(now, tail=_told(capture.tail, sample))
    window = _window(now, rules)
    if window and _still(window, rules) and not _creeps(window, rules):
        return _stood_still(now, replace(window[-1], value=_middle(window)), rules)
    if not now.told and sample.at - now.began > rules.patience:
        return replace(now, told=True), Sign(Sound.WAIT, "it still moves: keep the probes there")
    return now, None


def _stood_still(capture: Capture, found: Sample, rules: Rules) -> tuple[Capture, Sign]:
    """Take what stands still, unless it may be the point before once more."""
    before = None if capture.last is None else capture.last.value
    if capture.quick and before is not None and found.value is not None:
        apart = abs(found.value - before)
        if apart <= ANOTHER * _slack(before, max(found.step, capture.last.step if capture.last else 0.0), rules):
            words = "the same value again, so soon: if this is the next point, lift a little longer"
            return Capture(last=capture.last, answered=found.at), Sign(Sound.REFUSED, words)
    return Capture(last=found, spoilt=False, answered=found.at), Sign(Sound.TAKEN, "", found.value)


def _window(capture: Capture, rules: Rules) -> tuple[Sample, ...]:
    """The readings that have to agree, or none while there are too few."""
    last = capture.run[-1].at
    last_value = capture.run[-1].value
    slow = capture.quick or (last_value is not None and last_value > rules.skin)
    length = max(rules.quick_settle if slow else rules.settle, rules.fraction * (last - capture.began))
    if last - capture.run[0].at < length - 1e-9 or len(capture.run) < rules.readings:
        return ()
    within = sum(s.at >= last - length - 1e-9 for s in capture.run)
    return capture.run[-max(within, rules.readings) :]


def _still(window: tuple[Sample, ...], rules: Rules) -> bool:
    values = [s.value for s in window if s.value is not None]
    return max(values) - min(values) <= _slack(values[-1], window[-1].step, rules)


def _creeps(window: tuple[Sample, ...], rules: Rules) -> bool:
    """Whether the last steps of a display all go one way, as at the end of a long charge."""
    values = [s.value for s in window if s.value is not None]
    rises, falls = values == sorted(values), values == sorted(values, reverse=True)
    return (rises or falls) and abs(values[-1] - values[0]) > 1.5 * (window[-1].step or rules.least_step)


def _slack(value: float, step: float, rules: Rules) -> float:
    return max(rules.steps * (step or rules.least_step), rules.share * abs(value)) * (1 + 1e-9)


def _slipped(tail: tuple[Sample, ...], sample: Sample, rules: Rules) -> bool:
    """Whether a value that stood still, or moved evenly as a charging rail does, is left at one jump."""
    figures = [(s.at, s.value) for s in tail if s.value is not None]
    if len(figures) < 2 or sample.value is None:
        return False
    if sample.step != tail[-1].step and _is_coarse(max(sample, tail[-1], key=lambda s: s.step)):
        return False  # a range far too high: the figures to come will tell
    (earlier, before), (then, last) = figures[-2:]
    slack, move = _slack(last, max(tail[-1].step, sample.step), rules), sample.value - last
    moves = [b - a for (_, a), (_, b) in pairwise(figures)]
    evenly = len(moves) >= 2 and (min(moves) >= 0 or max(moves) <= 0) and abs(last - figures[0][1]) > slack
    pace = (last - figures[0][1]) / max(then - figures[0][0], 1e-3)
    drift = pace * (sample.at - then) if evenly else 0.0
    if abs(last - before) <= slack:
        if then - figures[0][0] < rules.brush:
            return False
        latest = max(abs(m) for m in moves[-2:]) if evenly else 0.0
        further = min(abs(drift), latest * (sample.at - then) / max(then - earlier, 1e-3))
        return abs(move) > ANOTHER * slack + 2 * further
    if not evenly or (last > rules.skin and abs(moves[-1]) > 1.3 * abs(moves[0])):
        return False  # nothing is known of it yet, or it wanders, as skin across the tips does
    return abs(move) > 3 * slack + (2 * abs(drift) if (move > 0) == (drift > 0) else 0.0)


def _told(tail: tuple[Sample, ...], sample: Sample) -> tuple[Sample, ...]:
    """The tail with a reading that tells as much as a display can; in a range far too high it tells nothing."""
    if not tail or sample.step == tail[-1].step:
        return (*tail[-3:], sample)
    if sample.step > tail[-1].step:
        return tail if _is_coarse(sample) else (*tail[-3:], sample)
    return (sample,) if _is_coarse(tail[-1]) else (*tail[-3:], sample)


def _is_coarse(sample: Sample) -> bool:
    return sample.value is None or abs(sample.value) < FEW_STEPS * sample.step


FEW_STEPS = 300.0
"""Fewer steps than a display has in its proper range: a tenth of 6,000 is 600, a tenth of 4,000 is 400. [1]"""


def _grown(run: tuple[Sample, ...], sample: Sample) -> tuple[Sample, ...]:
    """The run with one more reading; of a very long one only the latest."""
    return (*run[-MOST:], sample)


SLIPPED = "the probe slipped: lift it and touch again"
ANOTHER = 1.25
"""How many times farther apart than the readings of a stand-still another point's value lies. [1]"""
MOST = 2_000
"""Readings kept of one touch: several minutes of the fastest display. [1]"""


def _middle(window: tuple[Sample, ...]) -> float:
    """The reading in the middle: a figure that the display has really shown."""
    values = sorted(s.value for s in window if s.value is not None)
    return values[len(values) // 2]
