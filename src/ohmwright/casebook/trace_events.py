"""A trace of the supply's current, on record with its readings so that later ones can be laid beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from ohmwright.errors import DataError
from ohmwright.facts import Facts
from ohmwright.facts.trace import Behaviour, TraceSeen

MOST_SAMPLES = 2_000
"""Readings kept of one trace; a finer one is thinned before it is entered. [1]"""


@dataclass(frozen=True, slots=True)
class TraceRecorded:
    """The supply was logged while it fed the board.

    Parameters
    ----------
    times, amps, volts : tuple of float
        [s], [A], [V]
    step : float
        Smallest step of the current display. [A]
    watts : float
        Of the last level. [W]
    period : float
        Of what repeats; 0 for nothing. [s]
    good : bool
        Whether the board worked then, so that later traces can be held against it.
    """

    kind: ClassVar[str] = "trace-recorded"
    version: ClassVar[int] = 1
    behaviour: Behaviour
    watts: float
    period: float
    words: str
    times: tuple[float, ...]
    amps: tuple[float, ...]
    volts: tuple[float, ...]
    step: float = 1e-3
    good: bool = False


def with_trace(facts: Facts, what: TraceRecorded, key: str) -> Facts:
    """The facts with one more trace."""
    if facts.state.feed is None:
        raise DataError("No supply is on that could be traced.", hint="record the feed first, then the trace")
    if not len(what.times) == len(what.amps) == len(what.volts) <= MOST_SAMPLES:
        raise DataError("Times, amps and volts of a trace differ in number, or are too many.", hint="thin it out")
    if not (what.watts >= 0 and what.period >= 0 and what.step > 0):
        raise DataError("Watts, period and step of a trace cannot be below zero.", hint="take the trace again")
    seen = TraceSeen(what.behaviour, what.watts, what.period, what.words, facts.state, key)
    return replace(facts, traces=(*facts.traces, seen))
