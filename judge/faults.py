"""What is truly wrong with a board: recipes that pick a part, a way of failing and how badly.

Shares and ranges are the judge's own estimates, wide on purpose, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from judge.laws import log_uniform
from judge.world import Fault, Random, TruePart, World

SEVERITIES: Mapping[str, tuple[float, float]] = {
    "hard": (0.004, 0.08), "soft": (0.08, 8.0), "leaky": (8.0, 250.0), "faint": (250.0, 8e4),
}  # fmt: skip
"""Ohms of a path that should not be. [Ω]"""
PATHS: Mapping[str, tuple[tuple[str, str, float], ...]] = {
    "diode": (("anode", "cathode", 1.0),),
    "schottky": (("anode", "cathode", 1.4),),
    "tvs": (("anode", "cathode", 2.5),),
    "led": (("anode", "cathode", 0.05),),
    "esd": (("line", "GND", 1.2),),
    "fet-n": (("drain", "source", 2.2), ("gate", "source", 0.7), ("gate", "drain", 0.4)),
    "fet-p": (("drain", "source", 2.2), ("gate", "source", 0.7), ("gate", "drain", 0.4)),
    "buck": (("SW", "GND", 2.0), ("VIN", "SW", 1.4), ("VIN", "GND", 1.0), ("VCC", "GND", 0.8), ("EN", "GND", 0.3),
             ("FB", "GND", 0.2), ("BOOT", "SW", 0.3)),
    "linear": (("OUT", "GND", 1.2), ("IN", "GND", 0.8), ("IN", "OUT", 0.8)),
    "load-switch": (("OUT", "GND", 0.8), ("IN", "GND", 0.7), ("IN", "OUT", 0.6)),
    "charger": (("SW", "GND", 1.5), ("SW1", "GND", 1.5), ("VIN", "SW", 1.2), ("VIN", "GND", 1.0), ("SYS", "GND", 1.0),
                ("VCC", "GND", 0.8), ("BAT", "SYS", 0.5), ("SW2", "GND", 0.8)),
    "ic": (("VDD", "GND", 2.0), ("IO", "GND", 0.6)),
}  # fmt: skip
"""Pairs of roles between which a kind fails, with weights."""
TWO_PIN: Mapping[str, float] = {"capacitor": 1.0, "polymer": 1.3, "tvs-two-way": 2.5, "crystal": 0.2}
SERIES: Mapping[str, float] = {
    "fuse": 2.0, "ferrite": 0.8, "coil": 0.7, "link": 0.5, "sense": 1.0, "resistor": 0.35, "fet-n": 0.8, "fet-p": 0.8,
    "linear": 0.8, "load-switch": 0.8, "schottky": 0.5, "diode": 0.5, "led": 0.2,
}  # fmt: skip
OPEN_OHMS = (3e6, 3e9)
Faults = tuple[Fault, ...]
Recipe = Callable[[Random, World], Faults | None]


def paths(part: TruePart, ground: str) -> Iterator[tuple[str, str, float]]:
    """Pin pairs of a part between which it can fail, on different nets, with weights."""
    if part.kind in TWO_PIN and len(part.pins) >= 2:
        a, b = part.pins[0], part.pins[-1]
        if a.net and b.net and a.net != b.net:
            yield a.number, b.number, TWO_PIN[part.kind]
    for first, second, weight in PATHS.get(part.kind, ()):
        found: dict[frozenset[str], tuple[str, str]] = {}
        for a in part.pins:
            for b in part.pins:
                if a.role == first and b.role == second and a.net and b.net and a.net != b.net:
                    found.setdefault(frozenset((a.net, b.net)), (a.number, b.number))
        for pair in found.values():
            yield (*pair, weight / len(found))


def _choose(luck: Random, choices: list[tuple[Fault, float]]) -> Fault | None:
    if not choices:
        return None
    weights = [weight for _, weight in choices]
    total = sum(weights)
    return choices[int(luck.choice(len(choices), p=[w / total for w in weights]))][0]


def _path_choices(world: World, keep: Callable[[TruePart, str, str], bool]) -> list[tuple[Fault, float]]:
    return [
        (Fault("short", part.name, a, b, 1.0), weight * (1.0 if _on_rail(world, part, a, b) else 0.25))
        for part in world.parts
        for a, b, weight in paths(part, world.ground)
        if keep(part, a, b)
    ]


def _on_rail(world: World, part: TruePart, a: str, b: str) -> bool:
    return any(net is not None and net != world.ground and world.net[net].rail
               for net in (part.pin(a).net, part.pin(b).net))  # fmt: skip


def _sized(luck: Random, fault: Fault, severity: str) -> Fault:
    ohms = log_uniform(luck, *SEVERITIES[severity])
    kind = "short" if severity in ("hard", "soft") else "leak"
    draw = float(luck.random())
    chance = {"hard": 0.45, "soft": 0.4, "leaky": 0.2, "faint": 0.08}[severity]
    seen = ("crack" if draw < 0.5 * chance else "burn") if draw < chance else ""
    return replace(fault, kind=kind, ohms=ohms, seen=seen)


def _anything(part: TruePart, a: str, b: str) -> bool:
    return True


def path_fault(severity: str) -> Recipe:
    """A path where there should be none."""

    def recipe(luck: Random, world: World) -> Faults | None:
        fault = _choose(luck, _path_choices(world, _anything))
        return None if fault is None else (_sized(luck, fault, severity),)

    return recipe


def _core_short(luck: Random, world: World) -> Faults | None:
    """A path on a rail that reads a few ohms when all is well."""
    cores = {net.name for net in world.nets if net.core}
    fault = _choose(luck, _path_choices(world, lambda p, a, b: {p.pin(a).net, p.pin(b).net} & cores != set()))
    return None if fault is None else (_sized(luck, fault, "hard" if luck.random() < 0.5 else "soft"),)


def _knee(luck: Random, world: World) -> Faults | None:
    """A clamp that begins to conduct early and softly."""
    choices = _path_choices(world, lambda p, a, b: p.kind in ("tvs", "tvs-two-way", "esd", "ic", "polymer"))
    fault = _choose(luck, choices)
    if fault is None:
        return None
    part = world.part[fault.part]
    # From the live pin down to ground, so that it shows with red on the rail.
    a, b = (fault.b, fault.a) if part.pin(fault.a).net == world.ground else (fault.a, fault.b)
    return (replace(fault, kind="knee", a=a, b=b, ohms=float(luck.uniform(0.12, 0.42))),)


def _open(luck: Random, world: World) -> Faults | None:
    choices: list[tuple[Fault, float]] = []
    for part in world.parts:
        weight = SERIES.get(part.kind, 0.0)
        if weight == 0.0 or len(part.nets) < 2:
            continue
        ohms = log_uniform(luck, *OPEN_OHMS)
        if part.kind in ("fet-n", "fet-p", "linear", "load-switch"):
            for drive in part.drives:
                choices.append((Fault("open", part.name, drive.source, drive.sink, ohms, "drive"), weight))
            continue
        conductor = part.conductors[0] if part.conductors else None
        if conductor is not None:
            choices.append((Fault("open", part.name, conductor.a, conductor.b, ohms, conductor.label), weight))
    fault = _choose(luck, choices)
    if fault is None:
        return None
    chance = 0.5 if world.part[fault.part].kind == "fuse" else 0.2
    return (replace(fault, seen="burn" if luck.random() < chance else ""),)


def _drift(luck: Random, world: World) -> Faults | None:
    choices = [
        (
            Fault("drift", p.name, c.a, c.b, c.size * log_uniform(luck, 1.35, 40.0), c.label),
            4.0 if p.kind == "sense" else 1.0,
        )
        for p in world.parts
        if p.kind in ("resistor", "sense")
        for c in p.conductors[:1]
    ]
    fault = _choose(luck, choices)
    return None if fault is None else (replace(fault, seen="corrosion" if luck.random() < 0.3 else ""),)


def _joint(luck: Random, world: World) -> Faults | None:
    choices = []
    for part in world.parts:
        if part.kind in ("capacitor", "polymer", "mechanical", "crystal", "esd", "tvs", "tvs-two-way"):
            continue
        for pin in part.pins:
            if pin.net is not None and (pin.net != world.ground or len(part.pins) <= 3):
                weight = 1.0 if world.net[pin.net].rail else 0.35
                choices.append((Fault("joint", part.name, pin.number, pin.number, 1.0), weight))
    fault = _choose(luck, choices)
    if fault is None:
        return None
    return (replace(fault, ohms=log_uniform(luck, 8.0, 1e8), seen="crack" if luck.random() < 0.25 else ""),)


def _wrong_part(luck: Random, world: World) -> Faults | None:
    choices: list[tuple[Fault, float]] = []
    for part in world.parts:
        first = part.conductors[0] if part.conductors else None
        if part.kind == "resistor" and first is not None:
            times = float(luck.choice([0.1, 0.1, 10.0, 0.01, 100.0, 4.7]))
            choices.append((Fault("drift", part.name, first.a, first.b, first.size * times, first.label), 1.0))
        elif part.kind == "capacitor" and first is not None:
            choices.append((Fault("short", part.name, first.a, first.b, log_uniform(luck, 0.01, 1e4)), 0.3))
        elif part.kind in ("fet-n", "fet-p") and part.conductors:
            # The other sort in the same case: its body diode points the other way.
            choices.append((Fault("reversed", part.name, "", "", 0.0, "body diode"), 4.0))
    fault = _choose(luck, choices)
    if fault is None:
        return None
    if fault.kind == "reversed":
        body = next(c for c in world.part[fault.part].conductors if c.label == fault.label)
        fault = replace(fault, a=body.a, b=body.b)
    return (replace(fault, wrong_part=True),)


def _reversed(luck: Random, world: World) -> Faults | None:
    choices: list[tuple[Fault, float]] = []
    for part in world.parts:
        for c in part.conductors:
            if part.kind in ("diode", "schottky", "led", "tvs") and c.kind == "D":
                choices.append((Fault("reversed", part.name, c.a, c.b, 0.0, c.label, wrong_part=True), 1.0))
            elif part.kind == "polymer":
                # A tantalum the wrong way round conducts from a volt or so.
                choices.append((Fault("knee", part.name, part.pins[0].number, part.pins[-1].number, 0.5,
                                      wrong_part=True), 1.0))  # fmt: skip
    fault = _choose(luck, choices)
    return None if fault is None else (fault,)


def _dirt(luck: Random, world: World) -> Faults | None:
    """A film between neighbouring pads; cleaning takes it away, removal does not."""
    choices = []
    for part in world.parts:
        weight = {"connector": 3.0, "ic": 1.0, "esd": 1.0, "crystal": 1.0, "charger": 1.0}.get(part.kind, 0.0)
        for a, b in zip(part.pins, part.pins[1:], strict=False):
            if weight and a.net and b.net and a.net != b.net:
                choices.append((Fault("dirt", part.name, a.number, b.number, 1.0), weight / len(part.pins)))
    fault = _choose(luck, choices)
    if fault is None:
        return None
    seen = "corrosion" if luck.random() < 0.75 else ""
    return (replace(fault, ohms=log_uniform(luck, 15.0, 3e5), seen=seen),)


# Pairs


def _to_ground(world: World, fault: Fault) -> str | None:
    """The rail that a path joins to ground."""
    part = world.part[fault.part]
    nets = {part.pin(fault.a).net, part.pin(fault.b).net}
    if world.ground not in nets or len(nets) < 2:
        return None
    net = next(n for n in nets if n != world.ground)
    return net if net is not None and world.net[net].rail else None


def _rail_faults(world: World) -> dict[str, list[tuple[Fault, float]]]:
    found: dict[str, list[tuple[Fault, float]]] = {}
    for fault, weight in _path_choices(world, _anything):
        rail = _to_ground(world, fault)
        if rail is not None:
            found.setdefault(rail, []).append((fault, weight))
    return found


def _two_on_one_rail(luck: Random, world: World) -> Faults | None:
    rails = {r: c for r, c in _rail_faults(world).items() if len({f.part for f, _ in c}) > 1}
    if not rails:
        return None
    choices = rails[str(luck.choice(sorted(rails)))]
    first = _choose(luck, choices)
    second = _choose(luck, [c for c in choices if first is None or c[0].part != first.part])
    if first is None or second is None:
        return None
    return (_sized(luck, first, "soft"), _sized(luck, second, str(luck.choice(["soft", "leaky"]))))


def _two_rails(luck: Random, world: World) -> Faults | None:
    rails = _rail_faults(world)
    if len(rails) < 2:
        return None
    names = [str(n) for n in luck.choice(sorted(rails), 2, replace=False)]
    picked = [_choose(luck, rails[name]) for name in names]
    if picked[0] is None or picked[1] is None or picked[0].part == picked[1].part:
        return None
    severities = [str(luck.choice(["hard", "soft", "leaky"])) for _ in range(2)]
    return tuple(_sized(luck, f, s) for f, s in zip(picked, severities, strict=True) if f is not None)


def _masked(luck: Random, world: World) -> Faults | None:
    """A hard short with a leak beside it, on the same rail or behind a low-ohm part."""
    rails = _rail_faults(world)
    near: dict[str, set[str]] = {rail: {rail} for rail in rails}
    for part in world.parts:
        if part.kind in ("coil", "ferrite", "fuse", "sense", "link") and len(part.nets) == 2:
            a, b = part.nets
            if a in rails and b in rails:
                near[a].add(b)
                near[b].add(a)
    if not rails:
        return None
    rail = str(luck.choice(sorted(rails)))
    first = _choose(luck, rails[rail])
    behind = [c for other in sorted(near[rail]) for c in rails[other] if first is None or c[0].part != first.part]
    second = _choose(luck, behind)
    if first is None or second is None:
        return None
    return (_sized(luck, first, "hard"), _sized(luck, second, "leaky"))


def _witness(luck: Random, world: World) -> Faults | None:
    """A short that took a fuse (or a thin ferrite) with it."""
    rails = _rail_faults(world)
    thin = [p for p in world.parts if p.kind in ("fuse", "ferrite") and len(p.nets) == 2]
    choices = [p for p in thin if set(p.nets) & set(rails)]
    if not choices:
        return None
    fuse = choices[int(luck.integers(len(choices)))]
    behind = [c for net in fuse.nets if net in rails for c in rails[net]]
    culprit = _choose(luck, behind)
    if culprit is None or culprit.part == fuse.name or not fuse.conductors:
        return None
    blown = fuse.conductors[0]
    ohms, seen = log_uniform(luck, *OPEN_OHMS), "burn" if luck.random() < 0.4 else ""
    return (
        _sized(luck, culprit, str(luck.choice(["hard", "soft"]))),
        Fault("open", fuse.name, blown.a, blown.b, ohms, blown.label, seen),
    )


def _nothing(luck: Random, world: World) -> Faults:
    return ()


RECIPES: Mapping[str, tuple[Recipe, float]] = {
    "hard short": (path_fault("hard"), 18.0),
    "soft short": (path_fault("soft"), 14.0),
    "leak": (path_fault("leaky"), 10.0),
    "faint leak": (path_fault("faint"), 7.0),
    "core short": (_core_short, 4.0),
    "knee": (_knee, 3.0),
    "open": (_open, 9.0),
    "drift": (_drift, 5.0),
    "joint": (_joint, 6.0),
    "wrong part": (_wrong_part, 3.0),
    "reversed": (_reversed, 2.0),
    "dirt": (_dirt, 5.0),
    "two on one rail": (_two_on_one_rail, 4.0),
    "two rails": (_two_rails, 3.0),
    "masked": (_masked, 4.0),
    "witness": (_witness, 3.0),
    "none": (_nothing, 6.0),
}
"""Recipes with the share of cases each gets where none is asked for."""


def severity_of(faults: Faults) -> str:
    """The word for how bad the first fault is."""
    if not faults:
        return "none"
    fault = faults[0]
    if fault.kind in ("short", "leak", "dirt"):
        return next((word for word, (_, high) in SEVERITIES.items() if fault.ohms <= high), "faint")
    return fault.kind
