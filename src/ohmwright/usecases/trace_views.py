"""The traces of a case to be looked at: which there are, and one with its steps, its stage and those beside it."""

from __future__ import annotations

from typing import Any

from ohmwright.casebook.trace_events import TraceRecorded
from ohmwright.errors import DataError
from ohmwright.facts import Behaviour
from ohmwright.traces import SupplyTrace, likeness, signature_of, stage_of
from ohmwright.usecases.desk import Desk, book_of
from ohmwright.usecases.trace_supply import as_logged, good_elsewhere

MOST_BESIDE = 6
"""Earlier traces that are laid beside one. [1]"""


def trace_list(desk: Desk, case: str) -> list[dict[str, Any]]:
    """The traces on record, oldest first."""
    return [
        {"sequence": number, "key": key, "words": what.words, "good": what.good, "seconds": what.times[-1],
         "peak": max(what.amps)}
        for number, key, what in _traces(desk, case)
    ]  # fmt: skip


def trace_shown(desk: Desk, case: str, sequence: int) -> dict[str, Any]:
    """One trace: points [s], [A], [V], levels, period, stage, and how it compares with the others. [1]"""
    known = _traces(desk, case)
    one = next(((key, what) for number, key, what in known if number == sequence), None)
    if one is None:
        raise DataError("There is no such trace.", where=f"event {sequence}", hint="it may have been taken back")
    key, what = one
    feeds = {seen.key: seen.state.feed for seen in book_of(desk, case).facts.traces}
    trace = as_logged(what, feeds.get(key))
    signature = signature_of(trace)
    stage = stage_of(signature, trace.step)
    told = what.behaviour is not Behaviour.OTHER
    others = [(n, k, w) for n, k, w in known if n != sequence][-MOST_BESIDE:]
    return {
        "sequence": sequence, "key": key, "words": what.words, "good": what.good,
        "times": list(what.times), "amps": list(what.amps), "volts": list(what.volts),
        "levels": [{"start": v.start, "end": v.end, "amps": v.amps} for v in signature.levels[:12]],
        "period": signature.period.seconds if signature.period else None,
        "drift": signature.slope if signature.drifting else None, "watts": what.watts,
        "at_limit": signature.at_limit.value,
        "stages": [{"name": s.value, "share": p} for s, p in stage.shares[:4]] if told else [],
        "notes": list(stage.words) if told else [],
        "beside": [
            *(_beside(trace, as_logged(w, feeds.get(k)), n, f"{k}: {_name(w)}", good=w.good) for n, k, w in others),
            *(_beside(trace, one.trace, -1 - n, f"a working board, case {one.case}", good=True)
              for n, one in enumerate(good_elsewhere(desk, case))),
        ],
    }  # fmt: skip


def _name(what: TraceRecorded) -> str:
    return "the board working" if what.good else what.words


def _beside(trace: SupplyTrace, other: SupplyTrace, sequence: int, name: str, *, good: bool) -> dict[str, Any]:
    alike = likeness(trace, other)
    words = "alike all along"
    if alike.parts_at is not None:
        words = f"parts at {alike.parts_at:.2f} s, from then on {alike.ratio:.2g} times the watts"
    return {
        "sequence": sequence, "name": name, "good": good, "words": words, "alike": alike.alike,
        "parts_at": alike.parts_at, "times": list(other.times), "amps": list(other.amps),
    }  # fmt: skip


def _traces(desk: Desk, case: str) -> list[tuple[int, str, TraceRecorded]]:
    counted = book_of(desk, case).counted
    return [
        (entry.event.sequence, entry.event.key, entry.what)
        for entry in counted if isinstance(entry.what, TraceRecorded) and len(entry.what.times) >= 8
    ]  # fmt: skip
