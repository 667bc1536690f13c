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

from ohmwright.usecases.skin import UNTOUCHED, Skin, skin_after
from ohmwright.usecases.slides import ANOTHER, Rules, Sample, creeping, slack_of, slipped, told_by


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
class Capture:
    """Where the machine stands.

    Parameters
    ----------
    run : tuple of Sample
        Readings since then, of one range.
    tail : tuple of Sample
        The latest readings of this touch, kept over a short air: what the next one is compared with.
    stood : float or None
        What stood still first in this touch; it walks along with a display that creeps, and stays behind at a jump.
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
    brief : bool
        Whether it did after so short an air that the hand may never have left.
    spoilt : bool
        Whether the probes have to be off for `Rules.lift` before anything counts: at the start, and after a refusal.
    skin : Skin
        What the touch has shown of fingers across the tips.
    """

    phase: Phase = Phase.LIFT
    run: tuple[Sample, ...] = ()
    tail: tuple[Sample, ...] = ()
    stood: float | None = None
    began: float = 0.0
    answered: float = -math.inf
    open_at: float = 0.0
    air: float | None = None
    told: bool = False
    last: Sample | None = None
    quick: bool = False
    brief: bool = False
    spoilt: bool = True
    skin: Skin = UNTOUCHED

    @property
    def touching(self) -> bool:
        """Whether the probes touch something."""
        return self.phase is Phase.TOUCHING

    @property
    def likely(self) -> float | None:
        """The value that will be taken if the display goes on standing still; None where nothing is likely yet."""
        return _middle(self.run[-WINDOW:]) if self.phase is Phase.TOUCHING and len(self.run) >= 2 else None


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
    many = last.value is not None and last.value > rules.skin  # fingers stand still for a moment now and then
    length = rules.quick_settle if many else rules.settle
    window = tuple(s for s in recent if s.at >= last.at - length)
    same = all(s.overload == last.overload and not s.held and (s.overload or s.value is not None) for s in window)
    enough = len(window) >= rules.readings and window[0] is not recent[0] if many else len(window) >= 2
    if not enough or not same or (last.value is not None and not _still(window, rules)):
        return capture, Sign(Sound.REFUSED, "the display does not stand still")
    words = "OL" if last.overload else ""
    return Capture(last=last, spoilt=False, answered=last.at), Sign(Sound.TAKEN, words, last.value)


def _is_air(sample: Sample, rules: Rules) -> bool:
    """OL, or near nothing in volts; there OL is a range that changes and tells nothing."""
    if rules.open_below > 0.0:
        return sample.value is not None and abs(sample.value) < rules.open_below
    return sample.overload


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
    near = away < rules.away + rules.ranges * (sample.at - capture.open_at)
    tail = capture.tail if near and not capture.skin.left_at(sample, rules) and not _rested(capture, rules) else ()
    if slipped(tail, sample, rules):
        return Capture(last=last, answered=sample.at)
    return Capture(
        Phase.TOUCHING, (sample,), told_by(tail, sample, rules), capture.stood if tail else None,
        capture.began if tail else sample.at, capture.answered, last=last, quick=quick, brief=quick and near,
        skin=skin_after(UNTOUCHED, sample, rules),
    )  # fmt: skip


def _rested(capture: Capture, rules: Rules) -> bool:
    """Whether what stood still last is the point that was taken: the hand rested there, and now goes on."""
    before, found = capture.last, capture.tail[-1].value if capture.tail else None
    if not capture.quick or before is None or before.value is None or found is None:
        return False
    return abs(found - before.value) <= ANOTHER * slack_of(before.value, before.step, rules)


def _touched(capture: Capture, sample: Sample, rules: Rules) -> tuple[Capture, Sign | None]:
    """One more reading while the probes touch."""
    capture = _with_skin(capture, sample, rules)
    if slipped(capture.tail, sample, rules):
        if capture.tail[-1] not in capture.skin.above[:-1]:
            return Capture(last=capture.last, answered=sample.at), Sign(Sound.REFUSED, SLIPPED)
        # Another pad of many ohms, or skin that was alike twice: what comes next tells, and nothing is taken till then.
        capture = replace(capture, tail=(), stood=capture.tail[-1].value)
    ranged = capture.run and sample.step != capture.run[-1].step
    now = replace(capture, run=(sample,) if ranged else _grown(capture.run, sample), air=None)
    now = replace(now, tail=told_by(capture.tail, sample, rules))
    now = replace(now, stood=_stood(now, rules))
    window = _window(now, rules)
    if window and _still(window, rules) and not _creeps(window, rules):
        if _is_another(now.stood, window, rules):
            return Capture(last=now.last, answered=sample.at), Sign(Sound.REFUSED, SLIPPED)
        return _stood_still(now, replace(window[-1], value=_middle(window)), rules)
    if not now.told and sample.at - now.began > rules.patience:
        return replace(now, told=True), Sign(Sound.WAIT, "it still moves: keep the probes there")
    return now, None


def _with_skin(capture: Capture, sample: Sample, rules: Rules) -> Capture:
    """Where it is proven to be skin, nothing is known yet of a point that could be left."""
    skin = skin_after(capture.skin, sample, rules)
    if skin.proven or capture.skin.left_at(sample, rules):
        return replace(capture, skin=skin, tail=(), stood=None)
    return replace(capture, skin=skin)


def _stood_still(capture: Capture, found: Sample, rules: Rules) -> tuple[Capture, Sign]:
    """Take what stands still, unless it may be the point before once more."""
    before = None if capture.last is None else capture.last.value
    if capture.quick and before is not None and found.value is not None:
        apart = abs(found.value - before)
        if apart <= ANOTHER * slack_of(before, max(found.step, capture.last.step if capture.last else 0.0), rules):
            words = "the same value again, so soon: if this is the next point, lift a little longer"
            return Capture(last=capture.last, answered=found.at), Sign(Sound.REFUSED, words)
    return Capture(last=found, spoilt=False, answered=found.at), Sign(Sound.TAKEN, "", found.value)


def _is_another(stood: float | None, window: tuple[Sample, ...], rules: Rules) -> bool:
    """Whether what stands still now is another point than what stood still first.

    Near zero the means of both are compared: they are finer than the steps, and nothing creeps there.
    """
    if stood is None:
        return False
    step = window[-1].step
    if abs(stood) < rules.floor:
        return abs(_mean([s.value for s in window if s.value is not None]) - stood) > FEW * (step or rules.least_step)
    found = _middle(window)
    return abs(found - stood) > ANOTHER * slack_of(found, step, rules)


def _stood(capture: Capture, rules: Rules) -> float | None:
    """What stands still now if nothing did yet, or if it is a step of the display from what did.

    Near zero it is the mean of what stood still first, and stays where it is.
    """
    if rules.ranges:
        # Only what was left above `Rules.skin`: a range far too high stands still as well, and the ohms of a big rail
        # creep by many steps.
        return capture.stood
    tail = capture.tail
    latest = tail[-2:] if len(tail) < 2 or tail[-1].at - tail[-2].at >= rules.brush else tail[-3:]
    values = [s.value for s in latest if s.value is not None]
    if len(values) < 2 or latest[-1].at - latest[0].at < rules.brush:
        return capture.stood
    slack = slack_of(values[-1], latest[-1].step, rules)
    if abs(values[-1]) < rules.floor:
        return _mean(values) if capture.stood is None and max(values) - min(values) <= slack else capture.stood
    near = slack / 2
    walks = capture.stood is None or abs(values[-1] - capture.stood) <= near or creeping(tail, rules)
    return values[-1] if max(values) - min(values) <= near and walks else capture.stood


def _window(capture: Capture, rules: Rules) -> tuple[Sample, ...]:
    """The readings that have to agree, or none while there are too few."""
    last = capture.run[-1].at
    last_value = capture.run[-1].value
    slow = capture.quick or (last_value is not None and last_value > rules.skin)
    least = rules.rest if capture.brief else rules.quick_settle if slow else rules.settle
    length = max(least, rules.fraction * (last - capture.began))
    if last - capture.run[0].at < length - 1e-9 or len(capture.run) < rules.readings:
        return ()
    within = sum(s.at >= last - length - 1e-9 for s in capture.run)
    return capture.run[-max(within, rules.readings) :]


def _still(window: tuple[Sample, ...], rules: Rules) -> bool:
    values = [s.value for s in window if s.value is not None]
    return max(values) - min(values) <= slack_of(values[-1], window[-1].step, rules)


def _creeps(window: tuple[Sample, ...], rules: Rules) -> bool:
    """Whether the last steps of a display all go one way, as at the end of a long charge."""
    values = [s.value for s in window if s.value is not None]
    rises, falls = values == sorted(values), values == sorted(values, reverse=True)
    return (rises or falls) and abs(values[-1] - values[0]) > 1.5 * (window[-1].step or rules.least_step)


def _grown(run: tuple[Sample, ...], sample: Sample) -> tuple[Sample, ...]:
    """The run with one more reading; of a very long one only the latest."""
    return (*run[-MOST:], sample)


SLIPPED = "the probe slipped: lift it and touch again"
FEW = 1.75
"""Steps of the display by which another point's mean lies away from that of two or three readings near zero: one
reading is off by 0.3 of a step for its rounding and about as much for noise, so two such means of one point differ by
0.4, and points three steps apart come out nearer than this once in a thousand times. [1]"""
WINDOW = 5
"""Latest readings whose middle is likely to be the value: a window at the rate of most meters. [1]"""
MOST = 2_000
"""Readings kept of one touch: several minutes of the fastest display. [1]"""


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _middle(window: tuple[Sample, ...]) -> float:
    """The reading in the middle: a figure that the display has really shown."""
    values = sorted(s.value for s in window if s.value is not None)
    return values[len(values) // 2]


__all__ = ["Capture", "Phase", "Rules", "Sample", "Sign", "Sound", "heard", "taken_by_key"]
