"""What the unmarked neighbours of a chip must be: typical circuits matched to the parts and nets of a board.

Each chip may be of several families, and in each the points that no pin names (the output of a buck is
behind its coil) may be several nets. Every such reading of the chip is weighed by how much of what stands
around it it explains; then every part is given the roles that its nets allow under all readings, against the
chance that it has nothing to do with the chip. Parts between the same nets are decided together, because a
feedback divider has one upper resistor and not three.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from ohmwright.circuit import Board, Part
from ohmwright.partbook.alike import Alike
from ohmwright.partbook.chip_readings import GENERIC, Reading, evidence_of, fits, mixed, read_chips, takes_part
from ohmwright.partbook.circuits.role import Role
from ohmwright.partbook.seen import Seen, likelihood
from ohmwright.partbook.surroundings import Surroundings

REACH_MM = 10.0
"""At this distance from a chip a part's odds of belonging to it are halved. [mm] estimate"""
MOST_JOINT = 4096
"""Assignments weighed one by one; larger groups are taken part by part."""
ROUNDS = 3
"""How often the parts are gone through, so that parts of one size may learn from one another."""


@dataclass(frozen=True, slots=True)
class Place:
    """A role of one chip that a part may have."""

    chip: str
    family: str
    role: Role
    probability: float
    points: tuple[tuple[str, str], ...] = ()
    """Nets of the role's points, and of the chip's input and output where they are known."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a part is taken for.

    Parameters
    ----------
    kinds : tuple of (str, float)
        Kinds with probabilities, likeliest first.
    places : tuple of (Place, float)
        Roles with probabilities, likeliest first. What they lack to one is "none of these".
    else_name : str
        What it is called where it has none of these roles.
    """

    part: str
    kinds: tuple[tuple[str, float], ...]
    places: tuple[tuple[Place, float], ...]
    else_name: str = ""


def neighbours(
    board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None, seen: Sequence[Seen] = ()
) -> tuple[Taken, ...]:
    """What every part with two ends, and every small transistor beside a chip, is taken for.

    Parameters
    ----------
    board : Board
        Parts of known kind keep it as evidence.
    pin_names : mapping or None
        Chip to pin number to the name in its datasheet, where the board does not have it.
    seen : sequence of Seen
        What was noticed of parts.
    """
    return neighbours_of(*read_chips(board, pin_names, seen), seen)


def neighbours_of(around: Surroundings, readings: Sequence[Reading], seen: Sequence[Seen] = ()) -> tuple[Taken, ...]:
    """The same where the board's chips are read already."""
    board = around.board
    told = {entry.part: entry for entry in seen}
    groups: dict[frozenset[str], list[Part]] = {}
    for part in board:
        if part.name not in around.duties and takes_part(part):
            groups.setdefault(frozenset(part.nets), []).append(part)
    by_net = _by_net(readings, board.ground)
    places = {nets: _places(around, by_net, nets) for nets in groups}
    taken: tuple[Taken, ...] = ()
    for _ in range(ROUNDS):
        alike = Alike(board, {entry.part: entry.kinds for entry in taken})
        found = [entry for nets, parts in groups.items() for entry in _group(around, places[nets], parts, told, alike)]
        taken = in_series(board, around, found)
    return taken


def _group(
    around: Surroundings, places: Sequence[Place], parts: Sequence[Part], told: Mapping[str, Seen], alike: Alike
) -> Iterator[Taken]:
    """Parts between the same nets, decided together."""
    else_name, else_mix = around.usual(parts[0])
    columns: list[list[float]] = []
    for part in parts:
        own = [mixed(part, p.role.kinds, told, alike) * _nearness(around.board, part, p.chip) for p in places]
        columns.append([*own, mixed(part, else_mix, told, alike)])
    shares = _assigned(places, columns)
    for part, share in zip(parts, shares, strict=True):
        kinds: dict[str, float] = {}
        for weight, mix in zip(share, [*(place.role.kinds for place in places), else_mix], strict=True):
            seen = evidence_of(part, told)
            odds = {kind: chance * likelihood(part, seen, kind) * alike.factor(part, kind) for kind, chance in mix}
            total = sum(odds.values()) or 1.0
            for kind, chance in odds.items():
                kinds[kind] = kinds.get(kind, 0.0) + weight * chance / total
        ranked = sorted(zip(places, share[:-1], strict=True), key=lambda entry: -entry[1])
        yield Taken(
            part.name,
            tuple(sorted(kinds.items(), key=lambda e: -e[1])),
            tuple(r for r in ranked if r[1] > 1e-4),
            else_name,
        )


def _by_net(readings: Sequence[Reading], ground: str) -> dict[str, dict[int, Reading]]:
    """For each net but ground the readings that hold it, by their rank, least probable first."""
    found: dict[str, dict[int, Reading]] = {}
    for rank, reading in enumerate(sorted(readings, key=lambda reading: reading.probability)):
        for net in frozenset().union(*reading.points.values()) - {ground}:
            found.setdefault(net, {})[rank] = reading
    return found


def _places(around: Surroundings, by_net: Mapping[str, Mapping[int, Reading]], nets: frozenset[str]) -> list[Place]:
    merged: dict[tuple[str, str, str], Place] = {}
    ranked: dict[int, Reading] = {}
    for net in nets:
        ranked.update(by_net.get(net, {}))
    for _, reading in sorted(ranked.items()):
        for role in reading.family.roles:
            if not fits(around, role, reading.points, nets):
                continue
            key = (reading.chip + reading.channel, reading.family.name, role.name)
            before = merged[key].probability if key in merged else 0.0
            merged[key] = Place(
                reading.chip,
                reading.family.name,
                role,
                min(1.0, before + reading.probability),
                _bound(role, reading, nets),
            )
    return list(merged.values())


def _bound(role: Role, reading: Reading, nets: frozenset[str]) -> tuple[tuple[str, str], ...]:
    out, left = [], set(nets)
    for point in role.between:
        own = sorted(left & set(reading.points.get(point, ()))) if point[0] != "#" else []
        if own:
            out.append((point, own[0]))
            left.discard(own[0])
    rest = [point for point in role.between if point[0] == "#"]
    power = [(p, min(reading.points[p])) for p in ("VIN", "OUT") if reading.points.get(p) and p not in role.between]
    return (*out, *zip(rest, sorted(left), strict=False), *power)


def _nearness(board: Board, part: Part, chip: str) -> float:
    here, there = part.place, board.part(chip).place
    if here is None or there is None:
        return 1.0
    dx = max(0.0, abs(here.x_mm - there.x_mm) - there.width_mm / 2.0)
    dy = max(0.0, abs(here.y_mm - there.y_mm) - there.height_mm / 2.0)
    return 1.0 / (1.0 + (math.hypot(dx, dy) / REACH_MM) ** 2)


def _assigned(places: Sequence[Place], columns: Sequence[Sequence[float]]) -> list[list[float]]:
    """For each part the probability of each place and of none."""
    n = len(places) + 1
    if n ** len(columns) > MOST_JOINT:
        rates = [place.probability * place.role.expected for place in places] + [GENERIC]
        raw = [[rate * weight for rate, weight in zip(rates, column, strict=True)] for column in columns]
        return [[x / (sum(row) or 1.0) for x in row] for row in raw]
    sums = [[0.0] * n for _ in columns]
    total = 0.0
    for choice in product(range(n), repeat=len(columns)):
        weight = math.prod(column[k] for column, k in zip(columns, choice, strict=True))
        weight *= GENERIC ** choice.count(n - 1)
        for k, place in enumerate(places):
            weight *= _counted(place, choice.count(k))
        total += weight
        for row, k in zip(sums, choice, strict=True):
            row[k] += weight
    return [[x / (total or 1.0) for x in row] for row in sums]


def _counted(place: Place, n: int) -> float:
    """Chance of meeting a role n times."""
    present = place.probability * place.role.present
    if n == 0:
        return 1.0 - present
    again = 1.0 - 1.0 / place.role.count if place.role.count > 1.0 else 0.05
    chance = present * (1.0 - again) * float(again ** (n - 1))
    return chance * float(0.05 ** max(0, n - place.role.most))


_PAIRS: Mapping[frozenset[str], float] = {
    frozenset({"led", "resistor"}): 3.0, frozenset({"led"}): 0.1, frozenset({"capacitor"}): 0.15,
    frozenset({"resistor", "capacitor"}): 1.2, frozenset({"resistor"}): 0.6, frozenset({"diode"}): 0.3,
    frozenset({"led", "capacitor"}): 0.05,
}  # fmt: skip
"""How usual two kinds are on a net that holds nothing but the two. Two capacitors leave it floating. Estimates."""


def in_series(board: Board, around: Surroundings, taken: Sequence[Taken]) -> tuple[Taken, ...]:
    """Where a net holds two parts and nothing else, each says something of the other."""
    by_name = {entry.part: entry for entry in taken}
    for net, held in board.pins_on.items():
        names = {part.name for part, _ in held}
        if len(held) == 2 and len(names) == 2 and names <= set(by_name) and around.sort(net) == "signal":
            first, second = (by_name[name] for name in sorted(names))
            by_name[first.part], by_name[second.part] = _told_by(first, second), _told_by(second, first)
    return tuple(by_name[entry.part] for entry in taken)


def _told_by(one: Taken, other: Taken) -> Taken:
    odds = {
        kind: share * sum(weight * _PAIRS.get(frozenset({kind, beside}), 1.0) for beside, weight in other.kinds)
        for kind, share in one.kinds
    }
    total = sum(odds.values()) or 1.0
    kinds = tuple(sorted(((kind, share / total) for kind, share in odds.items()), key=lambda e: -e[1]))
    return Taken(one.part, kinds, _followed(one, dict(kinds)), one.else_name)


def _followed(one: Taken, after: Mapping[str, float]) -> tuple[tuple[Place, float], ...]:
    """The roles after the kinds have changed: a role whose kind has become likelier has too."""
    before = dict(one.kinds)
    held = [
        (
            place,
            share
            * sum(
                weight * after.get(kind, 0.0) / max(before.get(kind, 0.0), 1e-6) for kind, weight in place.role.kinds
            ),
        )
        for place, share in one.places
    ]
    total = sum(share for _, share in held) + max(0.0, 1.0 - sum(share for _, share in one.places))
    return tuple(sorted(((place, share / (total or 1.0)) for place, share in held), key=lambda entry: -entry[1]))
