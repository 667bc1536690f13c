"""From facts to the answer: suspects, groups, claims, and what does not fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from ohmwright.circuit import Board
from ohmwright.devices import KINDS
from ohmwright.diagnosis.answer import Contradiction, Diagnosis, Group, Suspect
from ohmwright.diagnosis.claims import claims_of
from ohmwright.diagnosis.explain import reasons
from ohmwright.diagnosis.posterior import Posterior, posterior_of
from ohmwright.diagnosis.second import POOR_FIT
from ohmwright.evidence import Roster
from ohmwright.facts import Facts
from ohmwright.faults import Defect, DefectKind, Hypothesis, Prior
from ohmwright.quantities import Interval, format_quantity

LISTED = 24
SMALL = 0.002
WIDE = 100.0
"""An interval wider than this factor says nothing worth telling. [1]"""
ALIKE = 0.7
"""Suspects whose likelihoods differ by less than this are not told apart. [nat]"""


def diagnose(board: Board, facts: Facts, prior: Prior | None = None) -> tuple[Posterior, Diagnosis]:
    """Weigh every suspect by every fact.

    Parameters
    ----------
    board : Board
    facts : Facts
    prior : Prior, optional
        A shop's own weights in place of the built-in estimates.

    Returns
    -------
    Posterior
        The belief and what it rests on, for planning.
    Diagnosis
        The answer in words and figures.

    Raises
    ------
    UnknownNameError
        If a fact names a point or a part that is not on the board.
    NoConvergenceError
        If some variant of the circuit cannot be solved.
    """
    posterior = posterior_of(board, facts, prior)
    members = _by_key(posterior)
    suspects = _suspects(posterior, members)
    groups = _groups(posterior, suspects, members)
    return posterior, Diagnosis(
        suspects,
        groups,
        claims_of(posterior, suspects, groups),
        _contradictions(posterior),
        rest=max(0.0, 1.0 - sum(s.probability for s in suspects)),
        approximate=bool(posterior.lines) and posterior.misfit < POOR_FIT,
        off_board=tuple(sorted(facts.state.off)),
    )


def _by_key(posterior: Posterior) -> dict[str, list[int]]:
    return _members(posterior.roster)


@lru_cache(maxsize=8)
def _members(roster: Roster) -> dict[str, list[int]]:
    """Hypotheses of each suspect."""
    found: dict[str, list[int]] = {}
    for index, hypothesis in enumerate(roster.hypotheses):
        found.setdefault(_key(hypothesis), []).append(index)
    return found


def _key(hypothesis: Hypothesis) -> str:
    """Shorts and leaks between the same pins are one suspicion; so are a part's opens, joint or body."""
    return (
        " + ".join(sorted(f"{d.part or 'unmapped'}:{_coarse(d)}:{'/'.join(d.where)}" for d in hypothesis.faults))
        or "none"
    )


def _coarse(defect: Defect) -> str:
    return "path" if defect.kind is DefectKind.PATH else defect.mode


def _suspects(posterior: Posterior, members: dict[str, list[int]]) -> tuple[Suspect, ...]:
    p = posterior.probabilities.tolist()
    ranked = sorted(((sum(p[h] for h in idx), key, idx) for key, idx in members.items()), key=lambda t: (-t[0], t[1]))
    kept = [entry for entry in ranked[:LISTED] if entry[0] >= SMALL] or ranked[:1]
    why = reasons(posterior, [idx for _, _, idx in kept])
    return tuple(_suspect(posterior, key, idx, probability, why[k]) for k, (probability, key, idx) in enumerate(kept))


def _suspect(posterior: Posterior, key: str, idx: list[int], probability: float, why) -> Suspect:  # type: ignore[no-untyped-def]  # tuple of Reason
    best = posterior.hypotheses[max(idx, key=lambda h: posterior.belief.log_weight[h])]
    if not best.faults:
        aside = "".join(f"; {words_of(posterior.board, d)}" for d in best.defects)
        words = f"nothing that these readings could show is wrong{aside}"
        return Suspect(key, "", "none", (), words, probability, None, why)
    first = best.faults[0]
    part = first.part if len(best.faults) == 1 else "+".join(sorted({p for p in best.parts if p}))
    mode = first.mode if first.part else "unmapped"
    where = tuple(spot for d in best.faults for spot in d.where)
    words = " and ".join(words_of(posterior.board, d) for d in best.defects)
    severity = _severity(posterior, idx) if len(best.faults) == 1 else None
    places = tuple(sorted({d.part or d.where[0] for d in best.faults}))
    return Suspect(key, part, mode, where, words, probability, severity, why, _extent(severity), places)


def _extent(severity: Interval | None) -> str:
    if severity is None or severity.high > WIDE * severity.low:
        return ""
    low, high = (format_quantity(value, "Ω", 2) for value in (severity.low, severity.high))
    return f"about {low}" if low == high else f"{low} to {high}"


def words_of(board: Board, defect: Defect) -> str:
    """A defect as a technician says it."""
    if not defect.part:
        return f"a path from {defect.where[0]} to ground through something not on the map"
    if defect.harmless:
        return f"{defect.part} is a {KINDS[defect.label].words}"
    kind = KINDS[board.part(defect.part).kind].words
    if defect.kind is DefectKind.PATH:
        name = "shorted" if defect.mode == "short" else "leaking one way" if defect.one_way else "leaking"
        inner = "" if defect.label == "body" else f" ({defect.label}, {defect.nets[0]} to {defect.nets[1]})"
        return f"{defect.part}, {kind}, {name}{inner}"
    if defect.pin:
        return f"{defect.part}, {kind}, {'bad joint at' if defect.joint else 'broken inside at'} pin {defect.pin}"
    if defect.joint:
        return f"{defect.part}, {kind}, bad joint"
    return f"{defect.part}, {kind}, {'open' if defect.mode == 'open' else 'off its value'}"


def _severity(posterior: Posterior, idx: Sequence[int]) -> Interval | None:
    """90 % interval of the resistance of a path, or of what is left of an open or drifted element."""
    points = []
    p = posterior.probabilities
    weighed = posterior.weighed
    for h in idx:
        defect = posterior.hypotheses[h].faults[0]
        if defect.severity is None:
            return None
        moved, left = weighed.severity(int(posterior.class_of[h]), posterior.electrical.register.number(defect))
        sd = defect.severity.log_sd * left
        middle = math.log(defect.severity.median * _sound_ohms(posterior, defect)) + moved * defect.severity.log_sd
        for z in (-1.6, -0.8, 0.0, 0.8, 1.6):
            points.append((middle + z * sd, p[h] * math.exp(-0.5 * z * z)))
    points.sort()
    total = np.cumsum([weight for _, weight in points])
    if not total.size or total[-1] <= 0.0:
        return None
    low, high = (points[int(np.searchsorted(total, share * total[-1]))][0] for share in (0.05, 0.95))
    return Interval(math.exp(low), math.exp(high))


def _sound_ohms(posterior: Posterior, defect: Defect) -> float:
    """What a drift's factor is a factor of; one for everything else, whose severity is in ohms. [Ω]"""
    if defect.kind is not DefectKind.DRIFT:
        return 1.0
    wiring = posterior.electrical.forward.wiring
    element = wiring.index_of.get((defect.part, defect.label))
    return 1.0 if element is None else wiring.elements[element].median


def _groups(posterior: Posterior, suspects: Sequence[Suspect], members: dict[str, list[int]]) -> tuple[Group, ...]:
    """Suspects whose likelihoods are alike, joined about the likeliest."""
    score = {s.key: _log_likelihood(posterior, members[s.key]) for s in suspects}
    left = [s for s in suspects if s.probability >= SMALL]
    groups = []
    while left:
        leader = left[0]
        own = [s for s in left if s is leader or (_akin(s, leader) and abs(score[s.key] - score[leader.key]) < ALIKE)]
        left = [s for s in left if s not in own]
        groups.append(_group(own))
    return tuple(sorted(groups, key=lambda g: -g.probability))


def _log_likelihood(posterior: Posterior, idx: Sequence[int]) -> float:
    weight = posterior.belief.log_weight[list(idx)]
    prior = posterior.roster.log_prior[list(idx)]
    return float(np.logaddexp.reduce(weight) - np.logaddexp.reduce(prior))


def _akin(one: Suspect, leader: Suspect) -> bool:
    """Only suspects of one nature form a group: paths with paths, opens with opens.

    What asks for more places beside all those of the leader is no other answer in its stead.
    """
    return _nature(one) == _nature(leader) and not set(leader.places) < set(one.places)


def _nature(suspect: Suspect) -> str:
    return "path" if suspect.mode in ("short", "leak", "unmapped") else suspect.mode


def _group(own: Sequence[Suspect]) -> Group:
    total = sum(s.probability for s in own)
    if len(own) == 1:
        return Group((own[0].key,), total, own[0].words)
    each = dict.fromkeys("+".join(s.places) for s in own)
    names = ", ".join(list(each)[:6]) + (" …" if len(each) > 6 else "")
    return Group(
        tuple(s.key for s in own),
        total,
        f"one of {names}: no reading so far tells them apart",
        "heat, millivolts along the rail, or taking one off and reading both",
    )


def _contradictions(posterior: Posterior) -> tuple[Contradiction, ...]:
    if not posterior.lines:
        return ()
    best = posterior.class_of[int(np.argmax(posterior.belief.log_weight))]
    stray = posterior.joint.stray[:, best]
    worst = int(np.argmax(stray))
    reading = posterior.lines[worst].reading
    if stray[worst] < 0.5 and posterior.misfit > POOR_FIT:
        return ()
    text = (
        f"No explanation fits all readings. {reading.quantity.value} at {reading.red} to {reading.black} fits worst: "
        "take it again, probes on clean solder, and check which probe is where."
    )
    return (Contradiction(tuple(line.reading.key for line in posterior.lines), text, reading.key),)
