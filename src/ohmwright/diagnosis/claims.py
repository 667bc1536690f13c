"""What may be claimed, and how firmly. Belief alone never proves anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ohmwright.circuit import BoardState
from ohmwright.diagnosis.answer import Claim, Group, Level, Sign, Suspect
from ohmwright.diagnosis.belief import Array
from ohmwright.diagnosis.explain import kind_of_evidence, shown
from ohmwright.diagnosis.posterior import Posterior
from ohmwright.evidence import Line, roster_of
from ohmwright.evidence.gradient import pointed_at
from ohmwright.facts import CURES, FED, LOOSE, TRIALS, Deed, HeatFinding, LookFinding, Quantity, Reading, Symptom
from ohmwright.faults import Hypothesis

LIKELY = 0.95
BAD_BY_ITSELF = 3.0
"""Natural log of the odds by which a reading must speak for a bad part to count as a sign."""
UNLIKE = 0.003
"""How rarely a sound part by itself reads like this, before the reading counts as a sign. [1]"""
CHANGED, UNCHANGED = 1.25, 1.05
"""Readings farther apart than by the first factor differ; nearer than by the second they are the same. [1] common
practice, no source"""
FREE = 0.9
"""Belief that no other fault is left, below which a claim says so."""


def claims_of(posterior: Posterior, suspects: Sequence[Suspect], groups: Sequence[Group]) -> tuple[Claim, ...]:
    """All claims, strongest first."""
    proven = [claim for part in _touched(posterior) if (claim := _proof(posterior, part)) is not None]
    named = {claim.part for claim in proven}
    by_key = {s.key: s for s in suspects}
    softer = []
    for group in groups:
        if group.probability < LIKELY:
            continue
        members = [by_key[key] for key in group.members]
        sound = members[0].mode == "none"
        works = posterior.facts.last_trial is Deed.WORKS
        if (sound and not works) or (works and not sound and not _repaired(posterior, members)):
            # readings alone never say that nothing is wrong, nor that something is on a board that works
            continue
        places = members[0].places if len(members) == 1 else ()
        waiting = [place for place in places if place not in named]
        if places and not waiting:
            continue
        signs = _kinds_for(posterior, members)
        level = Level.SUPPORTED if len(signs) > 1 else Level.LIKELY
        part = waiting[0] if len(waiting) == 1 and waiting[0] in posterior.board.part_by_name else ""
        softer.append(Claim(level, part, group.words, signs))
    return (*proven, *sorted(softer, key=lambda c: c.level is not Level.SUPPORTED))


def _repaired(posterior: Posterior, members: Sequence[Suspect]) -> bool:
    """Whether all that is suspected was replaced, cleaned or reflowed."""
    state = posterior.facts.state
    done = state.replaced | state.cleaned
    return all(set(member.places) <= done for member in members)


def _touched(posterior: Posterior) -> list[str]:
    deeds = (Deed.TOOK_OFF, *CURES)
    acted = [act.part for act in posterior.facts.acts if act.deed in deeds]
    across = list(_series_read(posterior))
    return list(dict.fromkeys([*acted, *across]))


def _series_read(posterior: Posterior) -> list[str]:
    """Parts with an ohms reading straight across them."""
    pairs = {
        frozenset((line.probe.red, line.probe.black))
        for line in posterior.lines
        if line.probe.quantity is Quantity.OHMS
    }
    return [
        part.name
        for part in posterior.board.parts
        if len(part.nets) == 2 and posterior.board.ground not in part.nets and frozenset(part.nets) in pairs
    ]


def _proof(posterior: Posterior, part: str) -> Claim | None:
    """A proof of one part by the rule of its kind of fault, or None."""
    mass = _probability_of(posterior, part)
    if mass < LIKELY:
        return None
    gone = _gone(posterior, part)
    signs = [s for s in (gone, _by_itself(posterior, part), _open_in_place(posterior, part)) if s]
    works = _works(posterior, part)
    if works:
        signs.append(works)
    if len(signs) < 2 or (_kind_is_a_guess(posterior, part) and not works):
        return None
    if gone is None and _unmoved(posterior, part):
        return None
    left = not_cured(posterior, part)
    words = f"{part} is bad"
    if not part or part not in posterior.board.part_by_name:
        words = f"the fault was at {part}, in something not on the map"
    if left > 1.0 - FREE or posterior.facts.dead_since_mended(part):
        words += "; something else may still be wrong"
    return Claim(Level.PROVEN, part, words, tuple(signs))


def _kind_is_a_guess(posterior: Posterior, part: str) -> bool:
    """Whether nobody knows what the part is: then no reading of its own says that it is bad, only a cure does."""
    known = posterior.board.part_by_name
    return part in known and known[part].kind == "unknown-two-pads"


def _probability_of(posterior: Posterior, part: str) -> float:
    return float(posterior.probabilities[posterior.roster.at(part)].sum())


def not_cured(posterior: Posterior, *parts: str) -> float:
    """Belief in a fault besides those of some parts and of what was repaired already. [1]

    What lies on the bench was not repaired by that: it may well be the bad one.
    """
    state = posterior.facts.state
    repaired = replace(state.mended, replaced=state.replaced.union(parts), cleaned=state.cleaned.union(parts))
    return float(posterior.probabilities[posterior.roster.left(repaired)].sum())


def _without(state: BoardState, part: str) -> bool:
    return part in state.off or part in state.replaced or part in state.cleaned


def _gone(posterior: Posterior, part: str) -> Sign | None:
    """The same reading with the part on and off: bad before, sound after."""
    healthy = posterior.hypotheses[0]
    for after in posterior.lines:
        if after.loose or not _without(after.reading.state, part):
            continue
        for before in posterior.lines:
            if before.loose or _without(before.reading.state, part) or not _paired(before.reading, after.reading):
                continue
            if not _differ(before.reading, after.reading):
                continue
            bad_before = _log_ratio(posterior, (before, after), part)
            sound_after = _fits(posterior, after, healthy)
            if bad_before > BAD_BY_ITSELF and sound_after:
                text = (
                    f"{before.reading.quantity.value} {before.reading.red} to {before.reading.black} went from "
                    f"{shown(before.reading.quantity, before.reading.value)} to "
                    f"{shown(after.reading.quantity, after.reading.value)} when {part} was off or cured"
                )
                return Sign(text, tuple(e for e in (before.reading.key, after.reading.key) if e))
    return None


def _unmoved(posterior: Posterior, part: str) -> bool:
    """Whether a reading that spoke for the part is the same with a new one in its place: then it was not the part."""
    for after in posterior.lines:
        if after.loose or part not in after.reading.state.replaced:
            continue
        for before in posterior.lines:
            old, new = before.reading.state, after.reading.state
            if before.loose or _without(old, part) or old.off != new.off or not _paired(before.reading, after.reading):
                continue
            moved = _differ(before.reading, after.reading, UNCHANGED)
            if not moved and _log_ratio(posterior, (before,), part) > BAD_BY_ITSELF:
                return True
    return False


def _paired(before: Reading, after: Reading) -> bool:
    same = (before.quantity, before.red, before.black) == (after.quantity, after.red, after.black)
    feeds = before.quantity not in FED or before.state.feed == after.state.feed
    return same and feeds


def _differ(before: Reading, after: Reading, factor: float = CHANGED) -> bool:
    if before.value is None or after.value is None:
        return before.value is not after.value
    low, high = sorted((abs(before.value), abs(after.value)))
    return high > factor * low + 1e-3


def _by_itself(posterior: Posterior, part: str) -> Sign | None:
    """The part off the board reads as a bad one does, and as a sound one hardly would."""
    healthy = posterior.hypotheses[0]
    if _kind_is_a_guess(posterior, part):
        return None
    for line in posterior.lines:
        if line.reading.quantity not in LOOSE or line.reading.red.rpartition(".")[0] != part:
            continue
        if _log_ratio(posterior, (line,), part) > BAD_BY_ITSELF and not _fits(posterior, line, healthy, UNLIKE):
            read = shown(line.reading.quantity, line.reading.value)
            text = f"{part} by itself reads {read} from {line.reading.red} to {line.reading.black}"
            return Sign(text, (line.reading.key,) if line.reading.key else ())
    return None


def _open_in_place(posterior: Posterior, part: str) -> Sign | None:
    """Ohms straight across a series part: other paths can only lower it, so a high reading is the part's own."""
    if part not in posterior.board.part_by_name:
        return None
    nets = frozenset(posterior.board.part(part).nets)
    for line in posterior.lines:
        if line.probe.quantity is not Quantity.OHMS or frozenset((line.probe.red, line.probe.black)) != nets:
            continue
        if _without(line.reading.state, part) or len(nets) != 2:
            continue
        value = line.reading.value
        shelf = posterior.electrical.shelf(line, posterior.taken)
        sound = float(line.probe.unscaled(shelf.y[shelf.row_of[0]]))
        if (value is None or value > 10.0 * sound + 5.0) and _log_ratio(posterior, (line,), part) > BAD_BY_ITSELF:
            text = f"{shown(Quantity.OHMS, value)} straight across {part}, where other paths could only lower it"
            return Sign(text, (line.reading.key,) if line.reading.key else ())
    return None


def _works(posterior: Posterior, part: str) -> Sign | None:
    """Cured and tried: the board works after the part was replaced, cleaned or reflowed."""
    acts = posterior.facts.acts
    if posterior.facts.symptom is Symptom.UNKNOWN and not any(a.deed is Deed.STILL_DEAD for a in acts):
        return None  # nobody has seen it dead, so that it works says nothing
    cures = [k for k, a in enumerate(acts) if a.part == part and a.deed in CURES]
    tried = [k for k, a in enumerate(acts) if a.deed is Deed.WORKS]
    if not cures or not tried or tried[-1] < cures[-1]:
        return None
    between = acts[cures[-1] + 1 : tried[-1]]
    if any(a.deed in CURES for a in between):
        return None
    if acts[tried[-1]] is not [a for a in acts if a.deed in TRIALS][-1]:
        return None
    cure, trial = acts[cures[-1]], acts[tried[-1]]
    return Sign(f"the board works since {part} was {cure.deed.value}", tuple(e for e in (cure.key, trial.key) if e))


def _log_ratio(posterior: Posterior, lines: Sequence[Line], part: str) -> float:
    """How much more likely some readings together are with the part bad than with nothing wrong. [nat]"""
    mine = np.flatnonzero(posterior.roster.at(part))
    best = mine[np.argsort(-posterior.belief.log_weight[mine], kind="stable")][:12]
    chosen = [posterior.hypotheses[0], *(posterior.hypotheses[k] for k in best.tolist())]
    log_l = _weigh(posterior, lines, chosen)
    return float(log_l[1:].max(initial=-np.inf) - log_l[0])


def _weigh(posterior: Posterior, lines: Sequence[Line], chosen: Sequence[Hypothesis]) -> Array:
    electrical = posterior.electrical
    roster = roster_of(chosen, electrical.register)
    weighed = electrical.weigh(lines, roster, np.zeros(len(chosen)), posterior.taken)
    return np.asarray(weighed.joint.log_likelihood[weighed.class_of])


def _fits(posterior: Posterior, line: Line, hypothesis: Hypothesis, least: float = 0.003) -> bool:
    electrical = posterior.electrical
    roster = roster_of([hypothesis], electrical.register)
    found = electrical.weigh([line], roster, np.zeros(1), posterior.taken).joint
    return bool(found.misfit[0] > least and found.stray[0, 0] < 0.5)


def _kinds_for(posterior: Posterior, members: Sequence[Suspect]) -> tuple[Sign, ...]:
    """One sign per kind of evidence that speaks for the group by more than a bit."""
    found: dict[str, tuple[float, str, str]] = {}
    quantity = {line.reading.key: line.reading.quantity for line in posterior.lines}
    for reason in members[0].reasons:
        if reason.event not in quantity:
            continue  # heat, millivolts and looks are signs of their own kind below
        kind = kind_of_evidence(quantity[reason.event])
        if reason.bits > 1.0 and reason.bits > found.get(kind, (0.0, "", ""))[0]:
            found[kind] = (reason.bits, reason.text, reason.event)
    parts = {m.part for m in members}
    for heat in posterior.facts.heats:
        if heat.finding is not HeatFinding.NOTHING and parts & set(heat.parts):
            found.setdefault("heat", (1.0, f"heat at {', '.join(heat.parts)}", heat.key))
    for one in posterior.facts.gradients:
        near = ", ".join(sorted(parts.intersection(pointed_at(posterior.board, one))))
        if near:
            found.setdefault("millivolts", (1.0, f"millivolts along {one.net} lead to {near}", one.key))
    for look in posterior.facts.looks:
        if look.finding is not LookFinding.NOTHING and parts & set(look.parts):
            found.setdefault("look", (1.0, f"{look.finding.value} seen at {', '.join(look.parts)}", look.key))
    return tuple(Sign(text, (event,) if event else ()) for _, text, event in found.values())
