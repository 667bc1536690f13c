"""How far a board came after power went on, and who tries again: watts judged, not amps.

The bands are common practice at a 19.5 V entry turned into watts (common practice, no source); they overlap, so the
answer is a share for each stage and never one certain name. At another entry voltage the same watts hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from ohmwright.traces.signature import AtLimit, Signature


class Stage(StrEnum):
    """How far the board came, or what it does instead."""

    OPEN = "nothing drawn"
    DETECT = "only detection alive"
    STANDBY = "always-on controller alive"
    STANDBY_RAILS = "always-on rails up, waiting for the button"
    ABORTED = "began and gave up"
    RETRYING = "tries again and again"
    PLATEAU = "rails up, no code runs"
    TRAINING = "firmware at work"
    RUNNING = "runs"
    LIMIT_HELD = "asks for more than the limit"
    SHORT = "volts collapsed: a path that takes what it is given"
    CREEPING = "creeps up"


BANDS = (
    (Stage.DETECT, 0.008, 0.10), (Stage.STANDBY, 0.08, 0.42), (Stage.STANDBY_RAILS, 0.35, 1.25),
    (Stage.PLATEAU, 1.6, 5.2), (Stage.TRAINING, 5.0, 12.5), (Stage.RUNNING, 10.0, 42.0),
)  # fmt: skip
"""Watts at which a stage is usual: 0.5 to 5 mA, 4 to 21 mA and so on at 19.5 V. [W] common practice, no source"""
SOFT = 0.35
"""How softly the bands end: standard deviation of the logarithm. [1] estimate"""
LIVELY = 3.0
"""Restlessness from which code is at work. [1] estimate"""
RETRIERS = (
    (1e-3, 0.07, "a regulator's own hiccup"), (0.07, 1.0, "a supervisor or a switch with a timer"),
    (1.0, 7.0, "the embedded controller"), (7.0, 75.0, "a firmware watchdog"),
)  # fmt: skip
"""Period and who usually has it. [s] common practice, no source; 1 to 50 ms, 0.1 to 1 s, 1 to 5 s, 10 to 60 s"""


@dataclass(frozen=True, slots=True)
class StageRead:
    """What a signature says of the stage.

    Parameters
    ----------
    shares : tuple of (Stage, float)
        Probability of each stage that has any, likeliest first. [1]
    words : tuple of str
        What else is to be said: who tries again, what the rate could not show.
    ohms : float or None
        Volts over amps where the volts collapsed; leads included. [Ω]
    """

    shares: tuple[tuple[Stage, float], ...]
    words: tuple[str, ...] = ()
    ohms: float | None = None

    @property
    def stage(self) -> Stage:
        """The likeliest."""
        return self.shares[0][0]

    @property
    def probability(self) -> float:
        """Of the likeliest. [1]"""
        return self.shares[0][1]


def stage_of(signature: Signature, step: float = 1e-3) -> StageRead:
    """The stage a trace shows. [A]

    Parameters
    ----------
    step : float
        Smallest step of the current display: what is below it cannot be told from nothing. [A]
    """
    words = list(_rate_words(signature))
    if signature.at_limit is AtLimit.COLLAPSED and signature.limit_share > 0.5:
        ohms = (signature.volts_at_limit or 0.0) / max(signature.peak, 1e-9)
        words.append("two currents give the resistance without the leads, and tell a junction from a resistance")
        return StageRead(((Stage.SHORT, 0.95), (Stage.LIMIT_HELD, 0.05)), tuple(words), ohms)
    if signature.at_limit is AtLimit.HELD and signature.limit_share > 0.5:
        words.append("no short is proven: the volts hold; raise the limit one step if nothing is hot")
        return StageRead(((Stage.LIMIT_HELD, 0.9), (Stage.RUNNING, 0.1)), tuple(words))
    if signature.period and signature.peak > 2 * step and _swings(signature):
        words.append(retrier(signature.period.seconds))
        return StageRead(((Stage.RETRYING, 0.93), (_steady(signature, step)[0][0], 0.07)), tuple(words))
    if _gave_up(signature, step):
        words.append(f"rose to {signature.peak * signature.set_volts:.3g} W and fell back")
        return StageRead(((Stage.ABORTED, 0.85), (_steady(signature, step)[0][0], 0.15)), tuple(words))
    if (
        signature.drifting
        and signature.slope * (signature.levels[-1].end - signature.levels[-1].start) > 0.15 * signature.last
    ):
        return StageRead(((Stage.CREEPING, 0.7), (_steady(signature, step)[0][0], 0.3)), tuple(words))
    return StageRead(_steady(signature, step), tuple(words))


def retrier(period: float) -> str:
    """Who usually tries again with that period. [s]"""
    who = [name for low, high, name in RETRIERS if low <= period < high]
    return f"every {period:.3g} s: {who[0] if who else 'nobody this is usual for'}"


def _steady(signature: Signature, step: float) -> tuple[tuple[Stage, float], ...]:
    """Shares by watts of the last level, and by whether it is restless."""
    if signature.last < 0.6 * step and signature.peak <= 3.5 * step:
        return ((Stage.OPEN, 0.9), (Stage.DETECT, 0.1))
    watts = math.log(max(signature.last_watts, 1e-6))
    weights: dict[Stage, float] = {}
    for stage, low, high in BANDS:
        outside = max(math.log(low) - watts, watts - math.log(high), 0.0)
        weights[stage] = math.exp(-0.5 * (outside / SOFT) ** 2) + 1e-4
    lively = signature.restless > LIVELY
    for stage in (Stage.TRAINING, Stage.RUNNING):
        weights[stage] *= 1.0 if lively else 0.15
    weights[Stage.PLATEAU] *= 0.2 if lively else 1.0
    total = sum(weights.values())
    ranked = sorted(((s, w / total) for s, w in weights.items()), key=lambda pair: -pair[1])
    return tuple(pair for pair in ranked if pair[1] > 0.01)


def _swings(signature: Signature) -> bool:
    """Whether the repeating current moves between clearly different levels, and is no ripple on one."""
    low, high = min(v.amps for v in signature.levels), signature.peak
    return high - low > max(0.25 * high, 4 * signature.noise / max(signature.restless, 1.0))


def _gave_up(signature: Signature, step: float) -> bool:
    """One rise and a fall back to about where it began, within a second or two."""
    levels = signature.levels
    if len(levels) < 3:
        return False
    top = max(range(len(levels)), key=lambda k: levels[k].amps)
    if top in (0, len(levels) - 1):
        return False
    rest = max(levels[0].amps, levels[-1].amps)
    short = levels[top].end - levels[top].start < 2.5
    return short and levels[top].amps > rest + max(3 * step, 0.5 * rest) and levels[-1].amps < 0.6 * levels[top].amps


def _rate_words(signature: Signature) -> tuple[str, ...]:
    fastest = signature.period.shortest
    if signature.period or fastest < 0.02:
        return ()
    return (f"at {signature.rate:.3g} readings a second nothing faster than {fastest:.2g} s can be seen",)
