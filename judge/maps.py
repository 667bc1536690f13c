"""The map of a board as a repairer would have it: parts hidden, kinds guessed, values and volts missing."""

from __future__ import annotations

from dataclasses import replace

from judge.world import Random, TruePart, World, random_of
from ohmwright.circuit import Board, Net, Part, Pin, Rating, Spread

PLAIN = frozenset({"capacitor", "resistor", "ferrite", "link"})
"""Kinds that look alike when unmarked."""
POWER = frozenset({"VIN", "IN", "VCC", "SYS", "VDD"})


def hidden_parts(world: World, share: float, seed: str) -> frozenset[str]:
    """Parts left out of the map: small parts two and a half times as often as large ones; never the way in."""
    luck = random_of("hidden", seed)
    free = [p for p in world.parts if not (p.kind == "connector" and set(p.nets) & set(world.entries))]
    count = min(round(share * len(world.parts)), len(free))
    if count == 0:
        return frozenset()
    weights = [1.0 if len(p.pins) == 2 else 0.4 for p in free]
    total = sum(weights)
    picked = luck.choice(len(free), count, replace=False, p=[w / total for w in weights])
    return frozenset(free[int(k)].name for k in picked)


def map_of(world: World, hidden: frozenset[str], share: float, seed: str, read: Board | None = None) -> Board:
    """What the policy sees.

    Parameters
    ----------
    share : float
        Share of the parts hidden; the less is mapped, the less is known of the rest too. [1]
    read : Board or None
        The board as the program read it from a file: its kinds, values and volts are then the map's, right or
        wrong, as a user of that file would have them.
    """
    luck = random_of("map", seed)
    shown = [p for p in world.parts if p.name not in hidden]
    if read is None:
        parts = tuple(_part(world, part, share, luck) for part in shown)
    else:
        parts = tuple(read.part(part.name) for part in shown)
    missing: dict[str, int] = {}
    for part in world.parts:
        for pin in part.pins if part.name in hidden else ():
            if pin.net is not None:
                missing[pin.net] = missing.get(pin.net, 0) + 1
    there = {net for part in parts for net in part.nets} | {world.ground, *world.entries}
    names = [net.name for net in world.nets if net.name in there]
    nets = tuple(_net(world, name, missing.get(name, 0), share, luck) for name in names)
    if read is not None:
        nets = tuple(replace(read.net(net.name), unexplained_pads=net.unexplained_pads) for net in nets)
    said = 0.02 if share == 0.0 else round(min(max(share + float(luck.normal(0.0, 0.05)), 0.03), 0.95), 2)
    return Board(f"{world.family} board", world.ground, nets, parts, world.entries, said)


def _net(world: World, name: str, missing: int, share: float, luck: Random) -> Net:
    true = world.net[name]
    draws = luck.random(2)
    pads = int(luck.binomial(missing, 0.85)) if missing else 0
    known = true.nominal is not None and (name in world.entries or draws[0] < 0.85 - 0.5 * share)
    rated = round(true.rating * 0.95, 2) if draws[1] < 0.12 and name != world.ground else None
    return Net(name, true.nominal if known else None, rated, true.rail and (known or draws[0] < 0.95), pads)


def _part(world: World, part: TruePart, share: float, luck: Random) -> Part:
    draws = luck.random(4)
    kind, pins, value = part.kind, part.pins, part.value
    package = part.package if len(part.pins) != 2 or part.kind not in PLAIN else _case(part)
    rating, parameters = Rating(), _parameters(part, float(draws[3]))
    if part.stands is not None and draws[1] < 0.4:
        rating = Rating(volts=part.stands, source="list")
    if draws[2] < 0.2 + 0.4 * share or part.kind in ("buck", "linear", "charger"):
        value = None
    if kind in PLAIN and len(pins) == 2 and draws[0] < 0.08 + 0.35 * share:
        kind, value, rating, parameters = "unknown-two-pads", None, Rating(), ()
        pins = tuple(replace(pin, role="", name="") for pin in pins)
    elif kind in ("buck", "linear", "load-switch") and draws[0] < 0.06 + 0.2 * share:
        kind, parameters = "ic", ()
        pins = tuple(_plain(pin) for pin in pins)
    elif kind == "ic" and draws[0] < 0.15 + 0.3 * share:
        pins = tuple(pin if pin.role == "GND" else _less_known(world, pin, luck) for pin in pins)
    return Part(part.name, kind, pins, value, package, rating, part.place, parameters=parameters, source="map")


def _case(part: TruePart) -> str:
    return f"two pads {part.place.width_mm:g}x{part.place.height_mm:g} mm"


def _plain(pin: Pin) -> Pin:
    """A regulator's pin as one who does not know the regulator would call it."""
    return replace(pin, role="VDD" if pin.role in POWER else "GND" if pin.role == "GND" else "IO", name="")


def _less_known(world: World, pin: Pin, luck: Random) -> Pin:
    if pin.net is not None and world.net[pin.net].rail and luck.random() < 0.7:
        return pin
    return replace(pin, role="IO", name="")


def _parameters(part: TruePart, draw: float) -> tuple[tuple[str, Spread], ...]:
    if part.kind in ("fet-n", "fet-p") and part.drives:
        return (("passes", Spread(part.drives[0].needs, 0.2, "habit of such switches")),)
    if part.kind == "load-switch" and draw < 0.6 and not any(c.label == "pass diode" for c in part.conductors):
        return (("reverse_blocking", Spread(1.0, 0.0, "datasheet")),)
    return ()
