"""Where heat is expected under each hypothesis, and how likely what was felt is.

Power comes from the solved circuit, fault and coils included. What a finger or a camera makes of it is a
rough model (estimates, no source): the hottest part is found if it is hot enough, a neighbour is taken
for it sometimes, and the same method on the same rail repeats its error, so repeats add nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from ohmwright.circuit import Board
from ohmwright.evidence.electrical import Electrical
from ohmwright.evidence.forward import Column, Forward
from ohmwright.evidence.joint import Array
from ohmwright.evidence.probe import Probe, electrical_state
from ohmwright.facts import HANDHELD, Heat, HeatFinding, Quantity
from ohmwright.faults import DefectKind, Hypothesis, active_defects

FEELS = {"finger": 0.25, "camera": 0.04, "alcohol film": 0.12}
"""Watts in one small part that each method finds half the time; estimates. [W]"""
MISTAKEN = 0.2
"""Share of findings that name a neighbour of the hot part."""


def heat_log_likelihood(electrical: Electrical, heats: Sequence[Heat], hypotheses: Sequence[Hypothesis]) -> Array:
    """Natural logarithm of how likely the findings are, shape (n_hypotheses,)."""
    total = np.zeros(len(hypotheses))
    seen: set[tuple[str, str]] = set()
    for heat in heats:
        feed = heat.state.feed
        if feed is None or (heat.method, feed.plus) in seen:
            continue
        seen.add((heat.method, feed.plus))
        columns, of, powers = power_by_part(electrical, heat, hypotheses)
        logs = [np.log(finding_probability(electrical.board, heat, power)) for power in powers]
        total += np.array([logs[k] for k in of]) if columns else 0.0
    return total


def power_by_part(
    electrical: Electrical, heat: Heat, hypotheses: Sequence[Hypothesis]
) -> tuple[list[Column], list[int], list[dict[str, float]]]:
    """Watts in every part under each hypothesis.

    Returns
    -------
    columns : list of Column
        Different circuits with different carriers of the fault.
    of : list of int
        For each hypothesis the index of its column.
    powers : list of dict
        Part, or ``net:NAME`` for something off the map, to watts.
    """
    state = electrical.full_state(electrical_state(heat.state, Quantity.VOLTS))
    seen: dict[tuple[object, ...], int] = {}
    columns: list[Column] = []
    of = []
    for hypothesis in hypotheses:
        defects = active_defects(hypothesis, heat.state)
        key = (tuple(d.electrical for d in defects), tuple(d.part for d in defects))
        if key not in seen:
            seen[key] = len(columns)
            columns.append(Column(state, defects))
        of.append(seen[key])
    return columns, of, _powers(electrical, heat, columns)


def _powers(electrical: Electrical, heat: Heat, columns: list[Column]) -> list[dict[str, float]]:
    feed = heat.state.feed
    if feed is None:
        return [{} for _ in columns]
    board, forward = electrical.board, electrical.forward
    plus, minus = board.net_at(feed.plus), board.net_at(feed.minus)
    probe = Probe(
        Quantity.SUPPLY_VOLTS, plus, minus, HANDHELD, type(feed)(plus, minus, feed.volts, feed.limit, feed.leads)
    )
    unique: dict[tuple[object, ...], int] = {}
    index = [unique.setdefault(c.signature, len(unique)) for c in columns]
    firsts = [columns[index.index(k)] for k in range(len(unique))]
    solved, conductance, saturation, _ = forward.solve(probe, firsts)
    v = solved.volts
    parts = _element_powers(forward, v, conductance, saturation)
    out = []
    for column, k in zip(columns, index, strict=True):
        powers = {part: float(watts[k]) for part, watts in parts.items() if watts[k] > 1e-4}
        for defect in column.defects:
            if defect.kind is DefectKind.PATH and defect.severity is not None:
                a, b = (forward.network.node_of[net] for net in defect.nets)
                carrier = defect.part or f"net:{defect.where[0]}"
                powers[carrier] = powers.get(carrier, 0.0) + float((v[a, k] - v[b, k]) ** 2 / defect.severity.median)
        out.append(powers)
    return out


def _element_powers(forward: Forward, v: Array, conductance: Array, saturation: Array) -> dict[str, Array]:
    s = forward.strengths
    over_r = v[s.r_a] - v[s.r_b]
    over_j = v[s.j_a] - v[s.j_b]
    watts_r = conductance * over_r**2
    watts_j = saturation * np.expm1(np.minimum(over_j / s.n_vt[:, None], 100.0)) * over_j
    parts: dict[str, Array] = {}
    for rows, watts in ((forward.r_index, watts_r), (forward.j_index, watts_j)):
        for element, row in zip(rows.tolist(), watts, strict=True):
            part = forward.wiring.elements[element].part
            parts[part] = parts[part] + row if part in parts else row
    return parts


def finding_probability(board: Board, heat: Heat, powers: dict[str, float]) -> float:
    """How likely a finding is, given the watts in every part."""
    half = FEELS.get(heat.method, FEELS["finger"])
    felt = {part: p**2 / (p**2 + half**2) for part, p in powers.items()}
    strongest = max(felt.values(), default=0.0)
    nothing = 0.04 + 0.94 * (1.0 - strongest)
    if heat.finding is HeatFinding.NOTHING:
        return nothing
    pull = {part: p**1.5 * felt[part] for part, p in powers.items()}
    total = sum(pull.values())
    floor = 0.02 / max(len(board.parts), 1)
    if total <= 0.0:
        return floor * max(len(heat.parts), 1)
    named = 0.0
    for part, weight in pull.items():
        named += weight / total * _hit(board, heat, part)
    return max((1.0 - nothing) * named, floor * max(len(heat.parts), 1))


def _hit(board: Board, heat: Heat, hot: str) -> float:
    """Chance that a finding like this one is what a hot part leads to."""
    if hot.startswith("net:"):
        near = [part.name for part, _ in board.pins_on[hot[4:]]]
        return sum(0.8 / max(len(near), 1) for part in heat.parts if part in near)
    neighbours = neighbours_of(board, hot)
    chance = 0.0
    for part in heat.parts:
        if part == hot:
            chance += 1.0 - MISTAKEN
        elif part in neighbours:
            chance += MISTAKEN / len(neighbours)
    return min(chance, 1.0)


@lru_cache(maxsize=20_000)
def neighbours_of(board: Board, name: str) -> tuple[str, ...]:
    """The parts nearest a part: by place where places are known, else those on its nets besides ground."""
    part = board.part(name)
    if part.place is not None:
        here = part.place
        placed = [
            ((p.place.x_mm - here.x_mm) ** 2 + (p.place.y_mm - here.y_mm) ** 2, p.name)
            for p in board.parts
            if p.place is not None and p.name != name and p.place.side == here.side
        ]
        return tuple(other for _, other in sorted(placed)[:5])
    near = {p.name for net in part.nets if net != board.ground for p, _ in board.pins_on[net]} - {name}
    return tuple(sorted(near))
