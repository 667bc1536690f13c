"""How a chip may be read: of which family it is, and which nets are the points of its typical circuit.

The points that no pin names (the output of a buck is behind its coil) may be several nets. Every such reading is
weighed by how much of what stands around the chip it explains better than chance.
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
INNER = ("SW", "SW1", "SW2", "BOOT", "BOOT1", "BOOT2", "FB", "COMP", "HO", "LO")
"""Points at which nothing stands that the chip's circuit does not ask for."""
ODD = 1.2
"""What a part at such a point counts against a reading that has no role for it, as a logarithm. [1] estimate"""
Points = Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a chip: a family, and the nets of the points of its typical circuit."""

    chip: str
    family: Family
    points: Points
    channel: str = ""
    probability: float = 1.0


def read_chips(
    board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None, seen: Sequence[Seen] = ()
) -> tuple[Surroundings, tuple[Reading, ...]]:
    """Every chip's readings with their probabilities."""
    around = surroundings_of(board, duties_on(board, pin_names))
    told = {entry.part: entry for entry in seen}
    readings: list[Reading] = []
    for chip in around.duties:
        by_channel: dict[str, list[Reading]] = {}
        for reading in _readings(around, chip):
            by_channel.setdefault(reading.channel, []).append(reading)
        readings += _whole(around, by_channel, told)
    return around, tuple(readings)


def takes_part(part: Part) -> bool:
    """Whether a part has two ends or is a small transistor, and so may be a neighbour."""
    if part.kind in ("connector", "mechanical"):
        return False
    return len(part.nets) >= 2 and (len(part.pins) == 2 or (len(part.nets) == 3 and len(part.pins) <= 9))


def _readings(around: Surroundings, chip: str) -> Iterator[Reading]:
    raw = around.duties[chip]
    n_pins = len(around.board.part(chip).pins)
    kind = around.board.part(chip).kind
    # A chip of forty pins of which five have known names is hardly the regulator that those five would make.
    named = {net for nets in raw.values() for net in nets}
    told = sum(pin.net in named or pin.net is None for pin in around.board.part(chip).pins) / n_pins
    for family in FAMILIES:
        if n_pins > family.most_pins:
            continue
        for channel, points in _channels(family, raw):
            duties = set(points)
            if not all(any(duty in duties for duty in group) for group in family.needs):
                continue
            odds = family.odds * math.prod(factor for duty, factor in family.helps if duty in duties)
            odds *= 20.0 if kind == family.name and kind != "ic" else 1.0
            odds *= told if family.name != "chip" else 1.0
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
    feeds = family.name not in ("chip", "supervisor") and any("VIN" in group for group in family.needs)
    if "VIN" not in points:
        for other in ("VBUS", "VCC"):
            if other in points:
                points["VIN"] = points.pop(other) if feeds else points[other]
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
    for net in nets:
        if first == "#rail":
            good = net in around.rails
        elif first == "#any":
            good = around.sort(net) != "ground" and not any(net in held for held in points.values())
        else:
            good = net in points.get(first, ())
        if good and _fit(around, rest, points, nets - {net}):
            return True
    return False


def _whole(
    around: Surroundings, by_channel: Mapping[str, list[Reading]], told: Mapping[str, Seen]
) -> Iterator[Reading]:
    """Readings of one chip: as one circuit, or as several channels that all have to fit; each weighed."""
    weighed = {channel: _weighed(around, group, told) for channel, group in by_channel.items()}
    one = weighed.get("", ([], -math.inf))[1]
    # Channels share what stands at the input, so their mean is held against the one circuit, not their sum.
    apart = [score for channel, (_, score) in weighed.items() if channel]
    many = sum(apart) / len(apart) if apart else -math.inf
    several = len(weighed) > 1 or "" not in weighed
    top = max(one, many) if several else one
    shares = {True: math.exp(one - top), False: math.exp(many - top) if several else 0.0}
    for channel, (group, _) in weighed.items():
        share = shares[not channel] / sum(shares.values())
        for reading, weight in group:
            if weight * share > 0.003:
                yield Reading(reading.chip, reading.family, reading.points, reading.channel, weight * share)


def _weighed(
    around: Surroundings, group: list[Reading], told: Mapping[str, Seen]
) -> tuple[list[tuple[Reading, float]], float]:
    """Readings with weights that sum to one, and the logarithm of what they weigh together."""
    scores = [math.log(reading.probability) + _explained(around, reading, told) for reading in group]
    top = max(scores)
    weights = [math.exp(score - top) for score in scores]
    total = sum(weights)
    return [(r, weight / total) for r, weight in zip(group, weights, strict=True)], top + math.log(total)


def _explained(around: Surroundings, reading: Reading, told: Mapping[str, Seen]) -> float:
    """Log odds by which a reading explains what stands around its chip better than chance does."""
    near = _near_parts(around, reading)
    score, filled = 0.0, set()
    counted: dict[frozenset[str], int] = {}
    inner = {net for point in INNER for net in reading.points.get(point, ()) if net not in around.rails}
    for part in near:
        nets = frozenset(part.nets)
        roles = [role for role in reading.family.roles if fits(around, role, reading.points, nets)]
        filled |= {role.name for role in roles}
        if not roles:
            score -= ODD if nets & inner else 0.0
            continue
        if counted.get(nets, 0) >= 3:
            continue
        counted[nets] = counted.get(nets, 0) + 1
        chance = GENERIC * mixed(part, around.usual(part)[1], told)
        expected = sum(role.expected * mixed(part, role.kinds, told) for role in roles)
        score += math.log((expected + chance) / (1.3 * chance))
    for role in reading.family.roles:
        if (
            role.present >= 0.8
            and role.name not in filled
            and all(p in reading.points or p[0] == "#" for p in role.between)
        ):
            score += math.log(1.03 - role.present)
    return score


def _near_parts(around: Surroundings, reading: Reading) -> list[Part]:
    nets = {net for name, held in reading.points.items() if name != "GND" for net in held}
    found: dict[str, Part] = {}
    for net in nets:
        for part, _ in around.board.pins_on.get(net, ()):
            if part.name not in around.duties and takes_part(part):
                found[part.name] = part
    return list(found.values())


def mixed(
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
