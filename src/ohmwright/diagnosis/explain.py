"""What each fact says about each suspect, in words and in bits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ohmwright.diagnosis.answer import Reason
from ohmwright.diagnosis.posterior import Posterior
from ohmwright.evidence import Line, Stack, joint
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
    order = np.argsort(-posterior.belief.log_weight, kind="stable")[: 10 * most]
    wanted = {int(posterior.class_of[h]) for members in classes for h in members}
    likely = list(dict.fromkeys(int(posterior.class_of[h]) for h in order))[: 4 * most]
    chosen = sorted(wanted | set(likely) | {int(posterior.class_of[0])})
    at = {c: k for k, c in enumerate(chosen)}
    stack = posterior.electrical.stack(posterior.lines, [posterior.columns[c] for c in chosen])
    history = [np.zeros(len(chosen))]
    for n in range(1, len(posterior.lines) + 1):
        history.append(joint(_first(stack, n)).log_likelihood)
    prior = posterior.belief.log_weight - posterior.joint.log_likelihood[posterior.class_of]
    inside = np.array([int(posterior.class_of[h]) in at for h in range(len(posterior.hypotheses))])
    place = np.array([at.get(int(c), 0) for c in posterior.class_of])
    odds = [_log_odds(prior, log_l, place, inside, members) for log_l in history for members in classes]
    table = np.array(odds).reshape(len(history), len(classes)) / np.log(2.0)
    healthy = at.get(int(posterior.class_of[0]))
    out = []
    for s, members in enumerate(classes):
        best = max(members, key=lambda h: posterior.belief.log_weight[h])
        column = at[int(posterior.class_of[best])]
        out.append(
            tuple(
                Reason(
                    line.reading.key, _sentence(line, stack, k, column, healthy), float(table[k + 1, s] - table[k, s])
                )
                for k, line in enumerate(posterior.lines)
            )
        )
    return out


def _first(stack: Stack, n: int) -> Stack:
    return Stack(
        stack.observed[:n],
        stack.overload[:n],
        stack.limit[:n],
        stack.noise[:n],
        stack.stray[:n],
        stack.width[:n],
        stack.y[:n],
        stack.lean[:n],
        stack.spread,
    )


def _log_odds(prior, log_l, place, inside, members) -> float:  # type: ignore[no-untyped-def]  # arrays of one call
    weight = np.where(inside, prior + log_l[place], -np.inf)
    mine = np.zeros(len(weight), dtype=bool)
    mine[list(members)] = True
    own = float(np.logaddexp.reduce(weight[mine]))
    rest = float(np.logaddexp.reduce(weight[~mine])) if (~mine & inside).any() else -50.0
    return float(np.clip(own - rest, -60.0, 60.0))


def shown(quantity: Quantity, value: float | None) -> str:
    """A reading as a person writes it."""
    return "OL" if value is None else format_quantity(value, UNIT[quantity])


def expected(line: Line, y: float) -> str:
    """A prediction as a person writes it."""
    return "OL" if y > line.probe.overload else shown(line.reading.quantity, float(line.probe.unscaled(y)))


def _sentence(line: Line, stack: Stack, row: int, column: int, healthy: int | None) -> str:
    reading = line.reading
    what = f"{reading.red} to {reading.black}, {reading.quantity.value}: {shown(reading.quantity, reading.value)}"
    this = expected(line, float(stack.y[row, column]))
    if healthy is None:
        return f"{what}; about {this} if this is it"
    sound = expected(line, float(stack.y[row, healthy]))
    return f"{what}; about {this} if this is it, {sound} if nothing is wrong"


def kind_of_evidence(quantity: Quantity) -> str:
    """Readings of one kind share their ways of being wrong."""
    if quantity in LOOSE:
        return "part by itself"
    return "fed" if quantity in FED else "cold"
