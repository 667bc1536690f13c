"""What each fact says about each suspect, in words and in bits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ohmwright.diagnosis.answer import Reason
from ohmwright.diagnosis.belief import Array
from ohmwright.diagnosis.posterior import Posterior, found_log_likelihood
from ohmwright.evidence import Line, Roster, Stack, in_turn
from ohmwright.evidence.gradient import pointed_at
from ohmwright.evidence.heating import warmth
from ohmwright.evidence.warmth import Warmth
from ohmwright.facts import FED, LOOSE, Facts, Gradient, Heat, HeatFinding, Look, Quantity, TraceSeen
from ohmwright.faults import Defect, DefectKind
from ohmwright.quantities import format_quantity

UNIT = {
    Quantity.DIODE: "V",
    Quantity.OHMS: "Ω",
    Quantity.VOLTS: "V",
    Quantity.SUPPLY_VOLTS: "V",
    Quantity.SUPPLY_AMPS: "A",
    Quantity.PART_OHMS: "Ω",
    Quantity.PART_DIODE: "V",
}
FAINT = 1e-3
"""Less power than this in one part is told as none. [W] no source"""
NAMED = 6

Seen = Look | Heat | Gradient | TraceSeen


@dataclass(frozen=True, slots=True, eq=False)
class Finding:
    """One look, heat, gradient or trace on record.

    Parameters
    ----------
    key : str
        Of its entry.
    said : ndarray, shape (n_hypotheses,)
        What it added to the log likelihood of each hypothesis, given those before it. [nat]
    texts : tuple of str
        A sentence for each suspect.
    """

    key: str
    said: Array
    texts: tuple[str, ...]


def reasons(posterior: Posterior, classes: Sequence[Sequence[int]], most: int = 60) -> list[tuple[Reason, ...]]:
    """Reasons for suspects given by their classes.

    Each fact is credited with what it changed when it came in, so that a second look at the same thing is not
    counted again. The bits of all facts of a suspect sum to what they said together.

    Parameters
    ----------
    posterior : Posterior
    classes : sequence of sequence of int
        For each suspect its hypotheses' indices.
    """
    facts = posterior.facts
    if not (posterior.lines or facts.looks or facts.heats or facts.gradients or facts.traces):
        return [() for _ in classes]
    log_weight, class_of = posterior.belief.log_weight, posterior.class_of
    order = np.argsort(-log_weight, kind="stable")[: 10 * most]
    wanted = np.unique(class_of[[h for members in classes for h in members]])
    likely = list(dict.fromkeys(class_of[order].tolist()))[: 4 * most]
    chosen = np.unique(np.concatenate((wanted, likely, class_of[:1]))).astype(np.intp)
    inside = np.flatnonzero(np.isin(class_of, chosen))
    at = np.searchsorted(chosen, class_of[inside])
    place = np.full(len(class_of), -1, dtype=np.intp)
    place[inside] = np.arange(len(inside))
    own = [place[np.asarray(members, dtype=np.intp)] for members in classes]
    best = [int(inside[mine[np.argmax(log_weight[inside[mine]])]]) for mine in own]
    stack = posterior.weighed.stack.of_columns(chosen)
    found = _findings_of(posterior, inside, best)
    read = in_turn(stack, posterior.joint.of_columns(chosen)) if posterior.lines else np.zeros((0, len(chosen)))
    turns = _turns(posterior.lines, found)
    now = log_weight[inside] - posterior.joint.log_likelihood[class_of[inside]] - sum(f.said for f in found)
    mine, total = np.empty((len(turns) + 1, len(classes))), np.empty(len(turns) + 1)
    for t in range(len(turns) + 1):
        if t:
            turn = turns[t - 1]
            now = now + (turn.said if isinstance(turn, Finding) else read[turn, at])
        total[t] = _log_sum(now)
        mine[t] = [_log_sum(now[members]) for members in own]
    bits = np.diff(_log_odds(mine, total[:, None]), axis=0) / np.log(2.0)
    healthy = int(np.searchsorted(chosen, class_of[0]))
    sentences = [_sentence_of(line, stack, row, healthy) for row, line in enumerate(posterior.lines)]
    out = []
    for k, h in enumerate(best):
        column = int(np.searchsorted(chosen, class_of[h]))
        out.append(
            tuple(
                Reason(turn.key, turn.texts[k], float(bits[t, k]))
                if isinstance(turn, Finding)
                else Reason(
                    posterior.lines[turn].reading.key,
                    sentences[turn](column),
                    float(bits[t, k]),
                )
                for t, turn in enumerate(turns)
            )
        )
    return out


def _turns(lines: Sequence[Line], found: Sequence[Finding]) -> list[int | Finding]:
    """Readings, by their row, and findings in the order in which they came in; what has no number comes last."""
    number = [_number(line.reading.key) or 0 for line in lines]
    after: list[list[Finding]] = [[] for _ in range(len(lines) + 1)]
    for finding in sorted(found, key=lambda f: (_number(f.key) is None, _number(f.key) or 0)):
        n = _number(finding.key)
        before = [k + 1 for k, other in enumerate(number) if n is None or other < n]
        after[max(before, default=0)].append(finding)
    out: list[int | Finding] = [*after[0]]
    for row in range(len(lines)):
        out += [row, *after[row + 1]]
    return out


def _number(key: str) -> int | None:
    """Where an entry stands in the book; None for a key that does not say."""
    digits = key.removeprefix("e")
    return int(digits) if digits.isdecimal() else None


def _log_sum(rows: Array) -> Array:
    """Logarithm of the sum of exponentials along the last axis."""
    return np.asarray(np.logaddexp.reduce(rows, axis=-1))


def _log_odds(mine: Array, total: Array) -> Array:
    share = np.minimum(mine - total, -1e-26)
    return np.asarray(np.clip(share - np.log(-np.expm1(share)), -60.0, 60.0))


def shown(quantity: Quantity, value: float | None) -> str:
    """A reading as a person writes it."""
    return "OL" if value is None else format_quantity(value, UNIT[quantity])


def expected(line: Line, y: float) -> str:
    """A prediction as a person writes it."""
    return "OL" if y > line.probe.overload else shown(line.reading.quantity, float(line.probe.unscaled(y)))


def _sentence_of(line: Line, stack: Stack, row: int, healthy: int) -> Callable[[int], str]:
    """What a reading says, as a sentence for each column."""
    reading = line.reading
    what = f"{reading.red} to {reading.black}, {reading.quantity.value}: {shown(reading.quantity, reading.value)}"
    sound = expected(line, float(stack.y[row, healthy]))
    known: dict[float, str] = {}

    def of(column: int) -> str:
        y = float(stack.y[row, column])
        if y not in known:
            known[y] = f"{what}; about {expected(line, y)} if this is it, {sound} if nothing is wrong"
        return known[y]

    return of


def kind_of_evidence(quantity: Quantity) -> str:
    """Readings of one kind share their ways of being wrong."""
    if quantity in LOOSE:
        return "part by itself"
    return "fed" if quantity in FED else "cold"


def _findings_of(posterior: Posterior, inside: NDArray[np.intp], best: Sequence[int]) -> list[Finding]:
    """Everything on record that is not a number from a meter.

    Parameters
    ----------
    posterior : Posterior
    inside : ndarray of int, shape (n,)
        The hypotheses to say it of.
    best : sequence of int
        For each suspect the hypothesis that its sentence speaks of.
    """
    facts = posterior.facts
    roster = posterior.roster.subset(inside)
    few = posterior.roster.subset(np.array([0, *best], dtype=np.intp))
    place = {int(h): n for n, h in enumerate(inside.tolist())}
    at = np.array([place[h] for h in best], dtype=np.intp)
    out = []
    for seen, said in _added(posterior, facts, roster):
        texts = _texts(posterior, seen, said[at], few, bool(np.ptp(said) < 1e-12))
        out.append(Finding(seen.key, said, tuple(texts)))
    return out


def _added(posterior: Posterior, facts: Facts, roster: Roster) -> list[tuple[Seen, Array]]:
    """Each finding with what it adds to those of its kind before it; those of different rails add up anyway."""
    bare = Facts(readings=facts.readings)
    runs: list[list[tuple[Seen, Facts]]] = [
        [(one, replace(bare, looks=facts.looks[: k + 1])) for k, one in enumerate(facts.looks)],
        [(one, replace(bare, traces=facts.traces[: k + 1])) for k, one in enumerate(facts.traces)],
    ]
    for feed in dict.fromkeys(map(_feed, facts.heats)):
        heats = tuple(heat for heat in facts.heats if _feed(heat) == feed)
        runs.append([(one, replace(bare, heats=heats[: k + 1])) for k, one in enumerate(heats)])
    for net in dict.fromkeys(one.net for one in facts.gradients):
        along = tuple(one for one in facts.gradients if one.net == net)
        runs.append([(one, replace(bare, gradients=along[: k + 1])) for k, one in enumerate(along)])
    out = []
    for run in runs:
        before = np.zeros(len(roster.hypotheses))
        for seen, so_far in run:
            now = found_log_likelihood(posterior.electrical, so_far, roster)
            out.append((seen, now - before))
            before = now
    return out


def _texts(posterior: Posterior, seen: Seen, said: Array, few: Roster, idle: bool) -> list[str]:
    """A sentence for each suspect; the first of `few` is that nothing is wrong, the others are the suspects."""
    if idle:
        return [f"{_what(posterior, seen)}; this adds nothing to what was known"] * len(said)
    if isinstance(seen, Heat):
        return _of_heat(posterior, seen, few)
    there = [_there(few, h, seen) for h in range(1, len(few.hypotheses))]
    what = _what(posterior, seen)
    if isinstance(seen, Gradient):
        return [f"{what}; {_leaves(seen, defects)}" for defects in there]
    if isinstance(seen, TraceSeen):
        share = (100.0 * np.exp(said)).tolist()
        return [f"{what}; about {one:.2g} in 100 boards do so if this is it" for one in share]
    return [
        f"{what}; {np.exp(worth):.2g} times as often at a bad part as at a sound one"
        if worth
        else f"{what}; this suspect is not among what was looked at"
        for worth in said.tolist()
    ]


def _what(posterior: Posterior, seen: Seen) -> str:
    """What was found, as a person says it."""
    if isinstance(seen, Look):
        return f"{_names(seen.parts)} looked at: {seen.finding.value}"
    if isinstance(seen, TraceSeen):
        return f"current over time, fed at {_feed(seen)}: {seen.behaviour.value}"
    if isinstance(seen, Gradient):
        return f"millivolts along {seen.net} lead to {_names(pointed_at(posterior.board, seen)) or 'no part known'}"
    where = "nothing got warm" if seen.finding is HeatFinding.NOTHING else f"warmest at {_names(seen.parts)}"
    return f"heat by {seen.method}, fed at {_feed(seen)}: {where}"


def _feed(seen: Seen) -> str:
    return seen.state.feed.plus if seen.state.feed else "nothing"


def _names(parts: Sequence[str]) -> str:
    return ", ".join(parts[:NAMED]) + (" …" if len(parts) > NAMED else "")


def _there(roster: Roster, h: int, seen: Seen) -> list[Defect]:
    """Defects of a hypothesis that were still on the board when this was seen."""
    still = roster.still_there(seen.state)
    return [roster.defects[d] for d in roster.slots[h].tolist() if d >= 0 and still[d] and not roster.harmless[d]]


def _leaves(seen: Gradient, defects: Sequence[Defect]) -> str:
    paths = [d for d in defects if d.kind is DefectKind.PATH and seen.net in d.nets]
    if not paths:
        return f"if this is it, current leaves {seen.net} only where its sound parts take it"
    if not paths[0].part:
        return f"if this is it, current may leave {seen.net} anywhere"
    return f"if this is it, current leaves {seen.net} at {_names(sorted({d.part for d in paths if d.part}))}"


def _of_heat(posterior: Posterior, heat: Heat, few: Roster) -> list[str]:
    warm = warmth(posterior.electrical, heat, few)
    sound = _warmest(warm, 0)
    what = _what(posterior, heat)
    return [
        f"{what}; most power in {_warmest(warm, h)} if this is it, in {sound} if nothing is wrong"
        for h in range(1, len(few.hypotheses))
    ]


def _warmest(warm: Warmth, h: int) -> str:
    """Which carrier gets most under a hypothesis, with its power."""
    only = np.zeros(len(warm.circuit))
    only[h] = 1.0
    watts = warm.expected(only)
    top = int(np.argmax(watts))
    if watts[top] < FAINT:
        return "no part"
    n, board = len(warm.board.parts), warm.board
    name = board.parts[top].name if top < n else f"something not on the map at {board.nets[top - n].name}"
    return f"{name} (about {format_quantity(float(watts[top]), 'W', 2)})"
