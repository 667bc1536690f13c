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
from ohmwright.partbook.circuits.catalogue import FAMILIES
from ohmwright.partbook.circuits.role import Family, Role
from ohmwright.partbook.duties import without_number
from ohmwright.partbook.seen import Seen, likelihood
from ohmwright.partbook.surroundings import Surroundings, duties_on, surroundings_of

GENERIC = 0.30
"""Weight of having nothing to do with any chip's typical circuit, against a role expected once. [1] estimate"""
REACH_MM = 10.0
"""At this distance from a chip a part's odds of belonging to it are halved. [mm] estimate"""
MOST_JOINT = 4096
"""Assignments weighed one by one; larger groups are taken part by part."""
ROUNDS = 3
"""How often the parts are gone through, so that parts of one size may learn from one another."""
Points = Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a chip: a family, and the nets of the points of its typical circuit."""

    chip: str
    family: Family
    points: Points
    channel: str = ""
    probability: float = 1.0


@dataclass(frozen=True, slots=True)
class Place:
    """A role of one chip that a part may have."""

    chip: str
    family: str
    role: Role
    probability: float
    points: tuple[tuple[str, str], ...] = ()


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


def read_chips(
    board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None, seen: Sequence[Seen] = ()
) -> tuple[Surroundings, tuple[Reading, ...]]:
    """Every chip's readings with their probabilities."""
    around = surroundings_of(board, duties_on(board, pin_names))
    told = {entry.part: entry for entry in seen}
    readings: list[Reading] = []
    for chip in around.duties:
        found = list(_readings(around, chip))
        by_channel: dict[str, list[Reading]] = {}
        for reading in found:
            by_channel.setdefault(reading.channel, []).append(reading)
        for group in by_channel.values():
            readings += _weighed(around, group, told)
    return around, tuple(readings)


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
    around, readings = read_chips(board, pin_names, seen)
    told = {entry.part: entry for entry in seen}
    groups: dict[frozenset[str], list[Part]] = {}
    for part in board:
        if part.name not in around.duties and _takes_part(part):
            groups.setdefault(frozenset(part.nets), []).append(part)
    taken: tuple[Taken, ...] = ()
    for _ in range(ROUNDS):
        alike = Alike(board, {entry.part: entry.kinds for entry in taken})
        found = [entry for nets, parts in groups.items() for entry in _group(around, readings, nets, parts, told, alike)]
        taken = in_series(board, around, found)
    return taken


def _takes_part(part: Part) -> bool:
    if part.kind in ("connector", "mechanical"):
        return False
    return len(part.nets) >= 2 and (len(part.pins) == 2 or (len(part.nets) == 3 and len(part.pins) <= 9))


def _readings(around: Surroundings, chip: str) -> Iterator[Reading]:
    raw = around.duties[chip]
    n_pins = len(around.board.part(chip).pins)
    kind = around.board.part(chip).kind
    for family in FAMILIES:
        if n_pins > family.most_pins:
            continue
        for channel, points in _channels(family, raw):
            duties = set(points)
            if not all(any(duty in duties for duty in group) for group in family.needs):
                continue
            odds = family.odds * math.prod(factor for duty, factor in family.helps if duty in duties)
            odds *= 20.0 if kind == family.name and kind != "ic" else 1.0
            for bound in _bindings(around, family, points):
                yield Reading(chip, family, bound, channel, odds)


def _channels(family: Family, raw: Points) -> Iterator[tuple[str, Points]]:
    """The points of each channel of a chip; one nameless channel where it has but one."""
    switches = sorted({duty for duty in raw if duty.startswith("SW") and duty[2:].isdigit()})
    keep = frozenset({"SW1", "SW2", "BOOT1", "BOOT2"}) if family.name in ("buck-boost", "charger") else frozenset()
    if keep and "SW2" not in raw:
        keep = frozenset()
    if family.channels and len(switches) > 1:
        for switch in switches:
            number = switch[2:]
            chosen = {d: n for d, n in raw.items() if without_number(d) == d or d.endswith(number)}
            yield number, _with_aliases(family, _stripped(chosen, frozenset()))
        return
    yield "", _with_aliases(family, _stripped(raw, keep))


def _stripped(raw: Points, keep: frozenset[str]) -> dict[str, frozenset[str]]:
    out: dict[str, frozenset[str]] = {}
    for duty, nets in raw.items():
        name = duty if duty in keep else without_number(duty)
        out[name] = out.get(name, frozenset()) | nets
    return out


def _with_aliases(family: Family, points: dict[str, frozenset[str]]) -> Points:
    """Chips call their feed by several names: where one is missing the other serves."""
    if "VIN" not in points:
        for other in ("VBUS", "VCC"):
            if other in points:
                points["VIN"] = points[other] if family.name in ("chip", "port-controller", "supervisor") else points.pop(other)
                break
    if family.name == "chip" and "VIN" in points:
        points["VCC"] = points.get("VCC", frozenset()) | points["VIN"]
    return points


def _bindings(around: Surroundings, family: Family, points: Points) -> Iterator[Points]:
    """The points with every choice of those that no pin names."""
    bound = dict(points)
    bound.setdefault("GND", frozenset({around.board.ground}))
    choices: list[tuple[str, list[str]]] = []
    for latent in family.latents:
        if latent.name in bound or latent.start not in bound:
            continue
        reached = _reached(around, bound, latent.start)
        if latent.choice:
            barred = bound.get("BOOT", frozenset()) | bound.get("VIN", frozenset())
            choices.append((latent.name, [net for net in reached if net not in barred]))
        else:
            quiet = [net for net in reached if around.pads[net] <= 3 and around.sort(net) == "signal"]
            bound[latent.name] = frozenset(quiet)
    if not choices or not all(nets for _, nets in choices):
        yield bound
        return
    for combination in product(*(nets[:6] for _, nets in choices)):
        yield {**bound, **{name: frozenset({net}) for (name, _), net in zip(choices, combination, strict=True)}}


def _reached(around: Surroundings, bound: Points, start: str) -> list[str]:
    """Nets one part away from a point, ground left out."""
    found: dict[str, None] = {}
    for net in bound[start]:
        for part, _ in around.board.pins_on.get(net, ()):
            if len(part.pins) == 2 and len(part.nets) == 2 and part.kind not in ("connector", "mechanical"):
                far = next(other for other in part.nets if other != net)
                if around.sort(far) != "ground" and far not in bound[start]:
                    found[far] = None
    return list(found)


def fits(around: Surroundings, role: Role, points: Points, nets: frozenset[str]) -> bool:
    """Whether a part on exactly those nets joins the points of a role."""
    if len(nets) != len(role.between):
        return False
    return _fit(around, role.between, points, nets)


def _fit(around: Surroundings, between: tuple[str, ...], points: Points, nets: frozenset[str]) -> bool:
    if not between:
        return True
    first, rest = between[0], between[1:]
    named = {net for held in points.values() for net in held}
    for net in nets:
        if first == "#rail":
            good = net in around.rails
        elif first == "#any":
            good = net not in named and around.sort(net) != "ground"
        else:
            good = net in points.get(first, ())
        if good and _fit(around, rest, points, nets - {net}):
            return True
    return False


def _weighed(around: Surroundings, group: list[Reading], told: Mapping[str, Seen]) -> list[Reading]:
    scores = [math.log(reading.probability) + _explained(around, reading, told) for reading in group]
    top = max(scores)
    weights = [math.exp(score - top) for score in scores]
    total = sum(weights)
    return [
        Reading(r.chip, r.family, r.points, r.channel, weight / total)
        for r, weight in zip(group, weights, strict=True)
        if weight / total > 0.003
    ]


def _explained(around: Surroundings, reading: Reading, told: Mapping[str, Seen]) -> float:
    """Log odds by which a reading explains what stands around its chip better than chance does."""
    near = _near_parts(around, reading)
    score, filled = 0.0, set()
    counted: dict[frozenset[str], int] = {}
    for part in near:
        nets = frozenset(part.nets)
        roles = [role for role in reading.family.roles if fits(around, role, reading.points, nets)]
        filled |= {role.name for role in roles}
        if not roles or counted.get(nets, 0) >= 3:
            continue
        counted[nets] = counted.get(nets, 0) + 1
        chance = GENERIC * _mixed(part, around.usual(part)[1], told)
        expected = sum(role.expected * _mixed(part, role.kinds, told) for role in roles)
        score += math.log((expected + chance) / (1.3 * chance))
    for role in reading.family.roles:
        if role.present >= 0.8 and role.name not in filled and all(p in reading.points or p[0] == "#" for p in role.between):
            score += math.log(1.03 - role.present)
    return score


def _near_parts(around: Surroundings, reading: Reading) -> list[Part]:
    nets = {net for name, held in reading.points.items() if name != "GND" for net in held}
    found: dict[str, Part] = {}
    for net in nets:
        for part, _ in around.board.pins_on.get(net, ()):
            if part.name not in around.duties and _takes_part(part):
                found[part.name] = part
    return list(found.values())


def _mixed(
    part: Part, kinds: Sequence[tuple[str, float]], told: Mapping[str, Seen], alike: Alike | None = None
) -> float:
    """How likely what was seen of the part is, if it is one of those kinds."""
    total = sum(weight for _, weight in kinds)
    seen = evidence_of(part, told)
    return (
        sum(
            weight * likelihood(part, seen, kind) * (alike.factor(part, kind) if alike else 1.0)
            for kind, weight in kinds
        )
        / total
    )


def evidence_of(part: Part, told: Mapping[str, Seen]) -> Seen | None:
    """What was noticed of a part; a kind that the board knows counts as known."""
    seen = told.get(part.name)
    if seen is None and part.kind not in ("unknown-two-pads", "ic"):
        return Seen(part.name, known=part.kind)
    return seen


def _group(
    around: Surroundings,
    readings: Sequence[Reading],
    nets: frozenset[str],
    parts: Sequence[Part],
    told: Mapping[str, Seen],
    alike: Alike,
) -> Iterator[Taken]:
    """Parts between the same nets, decided together."""
    places = _places(around, readings, nets)
    else_name, else_mix = around.usual(parts[0])
    columns: list[list[float]] = []
    for part in parts:
        own = [_mixed(part, p.role.kinds, told, alike) * _nearness(around.board, part, p.chip) for p in places]
        columns.append([*own, _mixed(part, else_mix, told, alike)])
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
            part.name, tuple(sorted(kinds.items(), key=lambda e: -e[1])), tuple(r for r in ranked if r[1] > 1e-4), else_name
        )


def _places(around: Surroundings, readings: Sequence[Reading], nets: frozenset[str]) -> list[Place]:
    merged: dict[tuple[str, str, str], Place] = {}
    for reading in readings:
        for role in reading.family.roles:
            if not fits(around, role, reading.points, nets):
                continue
            key = (reading.chip + reading.channel, reading.family.name, role.name)
            before = merged[key].probability if key in merged else 0.0
            merged[key] = Place(
                reading.chip, reading.family.name, role, min(1.0, before + reading.probability), _bound(role, reading, nets)
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
    return (*out, *zip(rest, sorted(left), strict=False))


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
"""How usual two kinds are on a net that holds nothing but the two. Estimates; two capacitors would leave it floating."""


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
        (place, share * sum(weight * after.get(kind, 0.0) / max(before.get(kind, 0.0), 1e-6) for kind, weight in place.role.kinds))
        for place, share in one.places
    ]
    total = sum(share for _, share in held) + max(0.0, 1.0 - sum(share for _, share in one.places))
    return tuple(sorted(((place, share / (total or 1.0)) for place, share in held), key=lambda entry: -entry[1]))
