"""What each fact says about each suspect, in words and in bits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ohmwright.diagnosis.answer import Reason
from ohmwright.diagnosis.belief import Array
from ohmwright.diagnosis.posterior import Posterior
from ohmwright.evidence import Line, Stack, in_turn
from ohmwright.facts import FED, LOOSE, Quantity
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


def reasons(posterior: Posterior, classes: Sequence[Sequence[int]], most: int = 60) -> list[tuple[Reason, ...]]:
    """Reasons for suspects given by their classes.

    Each reading is credited with what it changed when it came in, so that a second look at the same
    thing is not counted again. The bits of all readings of a suspect sum to what they said together.

    Parameters
    ----------
    posterior : Posterior
    classes : sequence of sequence of int
        For each suspect its hypotheses' indices.
    """
    if not posterior.lines:
        return [() for _ in classes]
    weighed = posterior.weighed
    log_weight, class_of = posterior.belief.log_weight, posterior.class_of
    order = np.argsort(-log_weight, kind="stable")[: 10 * most]
    wanted = np.unique(class_of[[h for members in classes for h in members]])
    likely = list(dict.fromkeys(class_of[order].tolist()))[: 4 * most]
    chosen = np.unique(np.concatenate((wanted, likely, class_of[:1]))).astype(np.intp)
    stack = weighed.stack.of_columns(chosen)
    history = np.zeros((len(posterior.lines) + 1, len(chosen)))
    np.cumsum(in_turn(stack, posterior.joint.of_columns(chosen)), axis=0, out=history[1:])
    at = np.full(int(class_of.max()) + 1, -1, dtype=np.intp)
    at[chosen] = np.arange(len(chosen))
    inside = at[class_of] >= 0
    prior = log_weight - posterior.joint.log_likelihood[class_of]
    total = _log_sum(prior[inside] + history[:, at[class_of[inside]]])
    out = []
    for members in classes:
        own = np.asarray(members, dtype=np.intp)
        mine = _log_sum(prior[own] + history[:, at[class_of[own]]])
        bits = np.diff(_log_odds(mine, total)) / np.log(2.0)
        column = int(at[class_of[own[np.argmax(log_weight[own])]]])
        healthy = int(at[class_of[0]])
        out.append(
            tuple(
                Reason(line.reading.key, _sentence(line, stack, k, column, healthy), float(bits[k]))
                for k, line in enumerate(posterior.lines)
            )
        )
    return out


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


def _sentence(line: Line, stack: Stack, row: int, column: int, healthy: int) -> str:
    reading = line.reading
    what = f"{reading.red} to {reading.black}, {reading.quantity.value}: {shown(reading.quantity, reading.value)}"
    this = expected(line, float(stack.y[row, column]))
    sound = expected(line, float(stack.y[row, healthy]))
    return f"{what}; about {this} if this is it, {sound} if nothing is wrong"


def kind_of_evidence(quantity: Quantity) -> str:
    """Readings of one kind share their ways of being wrong."""
    if quantity in LOOSE:
        return "part by itself"
    return "fed" if quantity in FED else "cold"
