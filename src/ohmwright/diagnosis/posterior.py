"""The belief of one case: every hypothesis weighed by every fact, from scratch each time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from ohmwright.circuit import Board
from ohmwright.diagnosis.belief import Array, Belief
from ohmwright.diagnosis.guesses import as_built, no_pin, other_kind
from ohmwright.diagnosis.joined import as_joined, hidden_links
from ohmwright.diagnosis.second import doubtful, fits_poorly, partners, still_dead_at
from ohmwright.evidence import Electrical, Joint, Line, Roster, Taken, Weighed, roster_of
from ohmwright.evidence.current_trace import trace_log_likelihood
from ohmwright.evidence.gradient import gradient_log_likelihood
from ohmwright.evidence.heating import heat_log_likelihood
from ohmwright.evidence.looking import log_likelihood as look_log_likelihood
from ohmwright.facts import TRIALS, Deed, Facts, Symptom
from ohmwright.faults import Hypothesis, Prior, hypotheses_of

DEAD_YET_SOUND = 0.004
"""How often a board with nothing left to find on it is still dead when tried; estimate."""
WORKS_YET_FAULTY = 0.002
"""How often a board that was tried and works still has a fault on it; estimate."""
LOOKED_AT, LOOKED_FIRST = 60, 20
"""Classes looked at closely at a time, and while that only tells what unknown parts are, or which fault was mended
already. [1]"""
FEW = 12
"""Readings up to which parts of unknown kind are tried as diodes; later that takes longer than it is worth. [1]"""
MOST_TOLD = 6
"""Things nobody told that are guessed anew in one thought, at most. [1]"""


@dataclass(frozen=True, eq=False)
class Posterior:
    """What is believed, and what it was computed from.

    Parameters
    ----------
    belief : Belief
        Its cells are the hypotheses.
    roster : Roster
        The hypotheses as index arrays.
    weighed : Weighed
        Their classes, and what the readings say of each.
    taken : tuple of (str, str)
        What unknown parts are taken to be.
    """

    board: Board
    facts: Facts
    belief: Belief
    roster: Roster
    electrical: Electrical
    weighed: Weighed
    taken: Taken = ()

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """All of them; the first is that nothing is wrong."""
        return self.roster.hypotheses

    @property
    def lines(self) -> tuple[Line, ...]:
        """The readings."""
        return self.weighed.lines

    @property
    def class_of(self) -> NDArray[np.intp]:
        """Electrical class of each hypothesis, shape (n_hypotheses,)."""
        return self.weighed.class_of

    @property
    def joint(self) -> Joint:
        """What the readings say of each class."""
        return self.weighed.joint

    @cached_property
    def probabilities(self) -> Array:
        """Of the hypotheses, shape (n_hypotheses,). [1]"""
        return self.belief.probabilities

    @cached_property
    def by_defect(self) -> Array:
        """Belief in each defect of the roster, shape (n_defects,). [1]"""
        return self.roster.total(self.probabilities)

    @property
    def misfit(self) -> float:
        """How well the likeliest hypothesis fits the numbers. [1]"""
        return float(self.joint.misfit[self.class_of[int(np.argmax(self.belief.log_weight))]])


@lru_cache(maxsize=4)
def _electrical(board: Board, wires: tuple[tuple[str, str], ...]) -> Electrical:
    return Electrical(board, wires)


def posterior_of(board: Board, facts: Facts, prior: Prior | None = None) -> Posterior:
    """Weigh every hypothesis by every fact.

    Parameters
    ----------
    board : Board
    facts : Facts
    prior : Prior, optional
        A shop's own weights.

    Returns
    -------
    Posterior
    """
    prior = prior or Prior()
    facts = as_joined(facts, hidden_links(board, facts))
    electrical = _electrical(board, _wires(board, facts))
    singles = _singles(electrical, prior, facts.symptom)
    lines = _once(tuple(electrical.line(reading) for reading in facts.readings))
    again = still_dead_at(facts) is not None
    first = LOOKED_FIRST if again or singles.kinds_of_unknown() else LOOKED_AT
    result = _weighed(facts, electrical, lines, singles, (), first)
    for _ in range(MOST_TOLD):
        better = as_built(result) or no_pin(result)
        if better is None and len(lines) <= FEW and fits_poorly(result):
            better = other_kind(result)
        if better is None:
            break
        result = _weighed(facts, electrical, lines, singles, better, first)
    if first < LOOKED_AT and not again:
        result = _weighed(facts, electrical, lines, singles, result.taken, before=result.weighed)
    grown = singles.hypotheses
    for _ in range(2 if again else 1):
        if not doubtful(result):
            break
        grown = (*grown, *partners(result, singles.hypotheses, prior.second))
        roster = roster_of(grown, electrical.register)
        result = _weighed(facts, electrical, lines, roster, result.taken, before=result.weighed)
    return result


_rosters: WeakKeyDictionary[Electrical, dict[object, Roster]] = WeakKeyDictionary()


def _singles(electrical: Electrical, prior: Prior, symptom: Symptom) -> Roster:
    """All single hypotheses of a board, laid out once."""
    known = _rosters.setdefault(electrical, {})
    key = (prior.nothing, prior.unmapped, prior.second, tuple(sorted(prior.rates.items())), symptom)
    if key not in known:
        known[key] = roster_of(hypotheses_of(electrical.board, prior, symptom), electrical.register)
    return known[key]


def _once(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Readings without those that were taken again with the same result.

    A second look makes a slip unlikely, not that the map is wrong there: it must not weigh as another reading.
    """
    last: dict[object, Line] = {}
    kept: list[Line] = []
    for line in lines:
        key = (line.asked, line.state, line.loose, line.reading.state)
        if key in last and last[key].shows_as(line):
            again = replace(line, twice=True)
            kept = [again if other is last[key] else other for other in kept]
            line = again
        else:
            kept.append(line)
        last[key] = line
    return tuple(kept)


def _wires(board: Board, facts: Facts) -> tuple[tuple[str, str], ...]:
    states = [r.state for r in facts.readings] + [facts.state]
    found = {(board.net_at(a), board.net_at(b)) for state in states for a, b in state.bridges}
    return tuple(sorted(pair for pair in found if pair[0] != pair[1]))


def _weighed(
    facts: Facts,
    electrical: Electrical,
    lines: tuple[Line, ...],
    roster: Roster,
    taken: Taken,
    looked_at: int = LOOKED_AT,
    before: Weighed | None = None,
) -> Posterior:
    other = _observed(electrical, facts, roster)
    weighed = electrical.weigh(lines, roster, roster.log_prior + other, taken, looked_at, before)
    log_weight = roster.log_prior + other + weighed.joint.log_likelihood[weighed.class_of]
    log_weight[_redundant(roster, weighed)] = -np.inf
    belief = Belief(roster.hypotheses, log_weight)
    return Posterior(electrical.board, facts, belief, roster, electrical, weighed, taken)


def _redundant(roster: Roster, weighed: Weighed) -> NDArray[np.bool_]:
    """What a part of unknown kind may be is no case of its own before a reading could tell it from the first guess."""
    redundant = roster.sound() & (weighed.class_of == weighed.class_of[0])
    redundant[0] = False
    return np.asarray(redundant)


def _observed(electrical: Electrical, facts: Facts, roster: Roster) -> Array:
    """Log likelihood of everything that is not a number from a meter."""
    total = found_log_likelihood(electrical, facts, roster)
    for act in facts.acts:
        if act.deed in TRIALS:
            works = act.deed is Deed.WORKS
            against = np.log(WORKS_YET_FAULTY if works else DEAD_YET_SOUND)
            total = total + np.where(roster.left(act.state) == works, against, 0.0)
    return total


def found_log_likelihood(electrical: Electrical, facts: Facts, roster: Roster) -> Array:
    """Natural logarithm of how likely all looks, heat, millivolts and traces are, shape (n_hypotheses,)."""
    total = look_log_likelihood(facts.looks, roster)
    if facts.heats:
        total = total + heat_log_likelihood(electrical, facts.heats, roster)
    if facts.gradients:
        total = total + gradient_log_likelihood(electrical, facts.gradients, roster)
    if facts.traces:
        total = total + trace_log_likelihood(electrical.board, facts.traces, facts.readings, roster)
    return total
