"""What nobody told, guessed anew where the readings ask for it: kinds of unmarked parts, pins that nobody has drawn."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ohmwright.devices import could_be
from ohmwright.evidence import Taken, roster_of
from ohmwright.faults import AS_PATH
from ohmwright.operation import hidden_pin

if TYPE_CHECKING:
    from ohmwright.diagnosis.posterior import Posterior

ADOPTED = 2.0
"""How much likelier another kind must be than the first guess, and than a fault of the part. [nat]"""
FLIPPED, MOST_FLIPPED = 30, 2
"""Hypotheses that a guess is held against, and guesses tried at a time, at most. [1], [1]"""
OF_A_CHIP = 0.4
"""How often a pad that nobody has explained is a chip's pin with a junction to ground; estimate. [1]"""
SURPRISED, WORTH_TELLING = 2.0, 1.0
"""From how many spreads above it a reading is worth asking whether there is such a pin, and how much likelier
everything together must get without it. [1], [nat]"""


def as_built(result: Posterior) -> Taken | None:
    """A part of unknown kind that the readings say is another than it was taken for, with nothing wrong in it.

    From then on it is that in every hypothesis; else a fault elsewhere could not explain the part's own reading.
    """
    roster, told = result.roster, dict(result.taken)
    fit = result.joint.log_likelihood[result.class_of]
    # Whatever else is wrong: that something is wrong elsewhere is as good as certain, a fault of this part is not.
    kind = roster.log_prior - roster.log_prior[0] + fit
    fault = roster.log_prior + fit
    best: tuple[float, Taken] | None = None
    for part, own in roster.kinds_of_unknown().items():
        if part in told:
            continue
        top = int(own[np.argmax(kind[own])])
        gain = float(kind[top] - max(fit[0], fault[roster.with_part(part)].max(initial=-np.inf)))
        if gain > ADOPTED and (best is None or gain > best[0]):
            best = gain, (*result.taken, (part, result.hypotheses[top].defects[0].label))
    return best[1] if best else None


def _worth_flipping(result: Posterior) -> NDArray[np.intp]:
    """The likeliest hypotheses, and those that were likeliest before anything was read."""
    now = np.argsort(-result.belief.log_weight, kind="stable")[:FLIPPED]
    before = np.argsort(-result.roster.log_prior, kind="stable")[: 2 * FLIPPED]
    return np.unique(np.concatenate((now, before)))


def other_kind(result: Posterior) -> Taken | None:
    """A better guess of what one unknown part is, if the readings ask for it."""
    board = result.board
    told = dict(result.taken)
    nets = {net for line in result.lines for net in (line.probe.red, line.probe.black)} - {board.ground}
    unknown = [
        part
        for part in board.parts
        if part.kind == "unknown-two-pads" and part.name not in told and nets & set(part.nets)
    ]
    if not unknown or not result.lines:
        return None
    gained = _gains(result)
    best, best_gain = None, 0.0
    for part in unknown[:MOST_FLIPPED]:
        kinds = could_be(part)
        for kind, share in kinds[1:]:
            if kind in AS_PATH:
                continue
            taken = (*result.taken, (part.name, kind))
            gain = gained(taken) + float(np.log(share / kinds[0][1]))
            if gain > best_gain:
                best, best_gain = taken, gain
    return best


def no_pin(result: Posterior) -> Taken | None:
    """A net on which the parts that nobody has drawn have no pin of a chip, if the readings ask for it.

    Pads that the map does not explain are first taken for such a pin, which conducts from ground. Where a meter in
    diode mode shows more than that pin would let it, either the way there is broken or there is none: many a pad
    belongs to a resistor or a capacitor.
    """
    surprised = _surprised(result)
    if not surprised:
        return None
    gained = _gains(result)
    best, best_gain = None, WORTH_TELLING
    for net in sorted(surprised, key=lambda name: -surprised[name])[:MOST_FLIPPED]:
        none = (1.0 - OF_A_CHIP) ** result.board.net(net).unexplained_pads
        taken = (*result.taken, ("", hidden_pin(net)))
        gain = gained(taken) + min(0.0, float(np.log(none / (1.0 - none))))
        if gain > best_gain:
            best, best_gain = taken, gain
    return best


def _surprised(result: Posterior) -> dict[str, float]:
    """Nets with an undrawn pin on which readings mostly lean that show more than it would let them if nothing were
    wrong, with by how many of its spreads. [1]
    """
    forward, weighed = result.electrical.forward, result.weighed
    stack = weighed.stack
    found: dict[str, float] = {}
    sound = weighed.class_of[0]
    for k, line in enumerate(result.lines):
        if line.loose or not line.probe.is_diode:
            continue
        shelf = weighed.shelves[k]
        row = shelf.rows(weighed.codes[sound, k : k + 1])[0]
        lean = np.zeros(forward.n_unknowns)
        within = shelf.support < forward.n_elements
        lean[shelf.support[within]] = shelf.lean[row, within]
        most = int(np.argmax(np.abs(lean)))
        shown = stack.limit[k] if stack.overload[k] else stack.observed[k]
        off = (shown - shelf.y[row]) / max(abs(lean[most]), stack.noise[k])
        element = forward.wiring.elements[forward.elements[most]] if abs(lean[most]) > 0.0 else None
        if element and element.label == hidden_pin(element.b) and off > SURPRISED:
            found[element.b] = max(found.get(element.b, 0.0), float(off))
    return found


def _gains(result: Posterior) -> Callable[[Taken], float]:
    """By how much all that is worth looking at gets likelier if something is taken for something else. [nat]"""
    order = _worth_flipping(result)
    chosen = roster_of([result.hypotheses[k] for k in order], result.electrical.register)
    weight = result.belief.log_weight[order]
    rest = weight - result.joint.log_likelihood[result.class_of[order]]
    base = float(np.logaddexp.reduce(weight))

    def gained(taken: Taken) -> float:
        other = result.electrical.weigh(result.lines, chosen, np.zeros(len(order)), taken, refine=8)
        return float(np.logaddexp.reduce(rest + other.joint.log_likelihood[other.class_of])) - base

    return gained
