"""How the judge draws the true insides of parts. Its own laws, on purpose not those of the engine.

Uniform, triangular and mixed laws are used where the engine may think in lognormals, so that a result
never rests on both sides having drawn from the same formula. All ranges are common practice without a
source unless said otherwise; they are wide on purpose.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from judge.world import Conductor, Random
from ohmwright.circuit import Pin

Pins = Mapping[str, list[Pin]]
Law = Callable[[Random, Pins, "Hint"], list[Conductor]]


@dataclass(frozen=True, slots=True)
class Hint:
    """What the surroundings say of a part: nominal volts and core rails by net, and its nominal resistance."""

    volts: Mapping[str, float] = field(default_factory=dict)
    cores: frozenset[str] = frozenset()
    ohms: float = 1e4
    both_ways: bool = False
    share: int = 1
    """Number of chips that share a core rail's low resistance. [1]"""


def log_uniform(random: Random, low: float, high: float) -> float:
    """A value between the two, each decade alike."""
    return math.exp(random.uniform(math.log(low), math.log(high)))


def supply_load(random: Random, hint: Hint, net: str | None) -> float:
    """Ohms that one supply pin of a chip loads its rail with while nothing runs. [Ω]"""
    if net in hint.cores:
        return log_uniform(random, 1.6, 26.0) * hint.share
    volts = hint.volts.get(net or "", 3.3)
    if volts < 1.25:
        return log_uniform(random, 40.0, 2200.0)
    if volts < 2.2:
        return log_uniform(random, 250.0, 4e4)
    if volts > 5.5:  # 5 to 200 kΩ for a main system rail with all that hangs on it; common practice
        return log_uniform(random, 2e4, 1e6)
    return log_uniform(random, 6e3, 3e5) if random.random() < 0.6 else log_uniform(random, 900.0, 8e3)


def _between(random: Random, pins: Pins, label: str, low: float, high: float) -> list[Conductor]:
    ordered = [pin for group in pins.values() for pin in group]
    return [
        Conductor(label if k == 0 else f"{label} {k + 1}", "R", a.number, b.number, log_uniform(random, low, high))
        for k, (a, b) in enumerate(zip(ordered[0::2], ordered[1::2], strict=False))
    ]


def _capacitor(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    return _between(random, pins, "insulation", 4e7, 5e9)


def _polymer(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    return _between(random, pins, "insulation", 3e5, 2e7)


def _resistor(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    a, b = [pin for group in pins.values() for pin in group][:2]
    return [Conductor("body", "R", a.number, b.number, hint.ohms * random.triangular(0.985, 1.0, 1.015))]


def _series(label: str, low: float, high: float) -> Law:
    def law(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
        return _between(random, pins, label, low, high)

    return law


def _junction(label: str, low: float, high: float, emission: tuple[float, float], series: float) -> Law:
    """One junction from every anode to every cathode: the double diode has two, and so has the transistor at its base.

    Those of one body are of one make: they differ by few millivolts.
    """

    def law(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
        drop, curve = random.uniform(low, high), random.uniform(*emission)
        found: list[Conductor] = []
        for a in pins["anode"]:
            for k in pins["cathode"]:
                own = drop + (float(random.normal(0.0, 0.006)) if found else 0.0)
                mark = f" {a.number}-{k.number}" if found else ""
                found.append(Conductor(f"{label}{mark}", "D", a.number, k.number, own, curve, series))
                found.append(Conductor(f"blocked{mark}", "R", a.number, k.number, log_uniform(random, 2e7, 2e9)))
        return found

    return law


def _two_way(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    return _between(random, pins, "blocked", 5e7, 2e9)


def _esd(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    if "GND" not in pins or "line" not in pins:
        return []
    ground = pins["GND"][0].number
    base = random.uniform(0.54, 0.74)
    return [
        Conductor(f"clamp {p.number}", "D", ground, p.number, base + random.normal(0, 0.006), 1.2) for p in pins["line"]
    ]


def _fet(n_channel: bool) -> Law:
    def law(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
        g, s, d = (pins[role][0].number for role in ("gate", "source", "drain"))
        anode, cathode = (s, d) if n_channel else (d, s)
        return [
            Conductor("body diode", "D", anode, cathode, random.uniform(0.39, 0.58), random.uniform(1.02, 1.3), 0.02),
            Conductor("channel", "R", d, s, log_uniform(random, 2e6, 3e8)),
            Conductor("gate insulation", "R", g, s, log_uniform(random, 1e8, 5e9)),
        ]

    return law


def _to_ground(random: Random, pin: Pin, ground: str, low: float, high: float, series: float = 0.0) -> Conductor:
    emission = random.uniform(1.05, 1.75)
    return Conductor(f"substrate {pin.number}", "D", ground, pin.number, random.uniform(low, high), emission, series)


def _supply_pin(random: Random, pin: Pin, ground: str, hint: Hint) -> list[Conductor]:
    # Logic begins to conduct somewhere above a volt, and draws some milliamperes at its nominal volts.
    turn_on = random.uniform(0.75, 1.4)
    volts = hint.volts.get(pin.net or "", 3.3)
    series = max(max(volts - turn_on, 0.3) / log_uniform(random, 1e-3, 2e-2), 5.0)
    return [
        _to_ground(random, pin, ground, 0.38, 0.62, log_uniform(random, 0.5, 12)),
        Conductor(f"load {pin.number}", "R", pin.number, ground, supply_load(random, hint, pin.net)),
        # A drop is told with that over the series resistance: of this one alone, at 1 mA, it would be `turn_on`.
        Conductor(f"turn-on {pin.number}", "D", pin.number, ground, turn_on + 1e-3 * series, 2.4, series),
    ]


def _chip_pins(
    random: Random, pins: Pins, hint: Hint, supply: tuple[str, ...], bare: tuple[str, ...] = ()
) -> list[Conductor]:
    """Supply pins load, signal pins clamp to ground and mostly to the first supply as well."""
    if "GND" not in pins:
        return []
    ground = pins["GND"][0].number
    found: list[Conductor] = []
    upper = next((pins[role][0] for role in supply if role in pins and pins[role][0].net is not None), None)
    clamp = random.uniform(0.5, 0.72)
    for role, group in pins.items():
        for pin in group:
            if role == "GND" or role in bare or pin.net is None:
                continue
            if role in supply:
                found += _supply_pin(random, pin, ground, hint)
                continue
            found.append(_to_ground(random, pin, ground, clamp - 0.02, clamp + 0.02))
            found.append(Conductor(f"input {pin.number}", "R", pin.number, ground, log_uniform(random, 4e6, 3e8)))
            if upper is not None and random.random() < 0.65 and _below(pin, upper, hint):
                drop = random.uniform(0.55, 0.8)
                found.append(Conductor(f"upper {pin.number}", "D", pin.number, upper.number, drop, 1.3))
    return found


def _below(pin: Pin, upper: Pin, hint: Hint) -> bool:
    """Whether a pin never gets more than the supply: those that do have no clamp to it."""
    return hint.volts.get(pin.net or "", 0.0) <= hint.volts.get(upper.net or "", 3.3) + 0.2


def _ic(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    return _chip_pins(random, pins, hint, ("VDD",))


def _leg(random: Random, pins: Pins, switch: str, rail: str) -> list[Conductor]:
    """The two FETs of a switching leg as seen cold."""
    if switch not in pins or rail not in pins or "GND" not in pins:
        return []
    sw, vin, ground = pins[switch][0].number, pins[rail][0].number, pins["GND"][0].number
    return [
        Conductor(f"{switch} low diode", "D", ground, sw, random.uniform(0.37, 0.54), 1.12, 0.03),
        Conductor(f"{switch} low off", "R", ground, sw, log_uniform(random, 8e4, 2e7)),
        Conductor(f"{switch} high diode", "D", sw, vin, random.uniform(0.38, 0.56), 1.12, 0.03),
        Conductor(f"{switch} high off", "R", sw, vin, log_uniform(random, 5e5, 8e7)),
    ]


def _buck(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    found = _chip_pins(random, pins, hint, ("VIN", "VCC"), ("SW", "BOOT"))
    found += _leg(random, pins, "SW", "VIN")
    if "BOOT" in pins and "VCC" in pins:
        found.append(
            Conductor(
                "boot diode", "D", pins["VCC"][0].number, pins["BOOT"][0].number, random.uniform(0.4, 0.7), 1.3, 2.0
            )
        )
    return found


def _charger(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    found = _chip_pins(random, pins, hint, ("VIN", "SYS", "VCC"), ("SW", "SW1", "SW2", "BOOT", "BAT"))
    for switch, rail in (("SW", "VIN"), ("SW1", "VIN"), ("SW2", "SYS")):
        found += _leg(random, pins, switch, rail)
    if "BAT" in pins and "SYS" in pins:
        bat, sys = pins["BAT"][0].number, pins["SYS"][0].number
        found.append(Conductor("battery diode", "D", bat, sys, random.uniform(0.4, 0.6), 1.1, 0.02))
        found.append(Conductor("battery off", "R", bat, sys, log_uniform(random, 1e6, 1e8)))
        found.append(_to_ground(random, pins["BAT"][0], pins["GND"][0].number, 0.5, 0.7))
    return found


def _pass(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    if not {"IN", "OUT", "GND"} <= set(pins):
        return _chip_pins(random, pins, hint, ("IN",), ())
    found = _chip_pins(random, pins, hint, ("IN",), ("OUT",))
    source, out, ground = pins["IN"][0].number, pins["OUT"][0].number, pins["GND"][0].number
    if not hint.both_ways:
        found.append(Conductor("pass diode", "D", out, source, random.uniform(0.42, 0.62), 1.15, 0.05))
    found.append(Conductor("pass off", "R", out, source, log_uniform(random, 8e5, 6e7)))
    found.append(Conductor("output bleed", "R", out, ground, log_uniform(random, 6e3, 1.5e6)))
    found.append(_to_ground(random, pins["OUT"][0], ground, 0.45, 0.66))
    return found


def _nothing(random: Random, pins: Pins, hint: Hint) -> list[Conductor]:
    return []


LAWS: Mapping[str, Law] = {
    "capacitor": _capacitor,
    "polymer": _polymer,
    "resistor": _resistor,
    "sense": _series("body", 0.004, 0.025),
    "coil": _series("winding", 0.002, 0.06),
    "ferrite": _series("body", 0.012, 0.35),
    "fuse": _series("element", 0.008, 0.16),
    "link": _series("body", 0.001, 0.018),
    "diode": _junction("junction", 0.48, 0.68, (1.2, 1.9), 0.3),
    "schottky": _junction("junction", 0.14, 0.30, (1.01, 1.15), 0.05),
    "led": _junction("junction", 1.55, 2.75, (1.7, 2.6), 5.0),
    "tvs": _junction("junction", 0.52, 0.74, (1.05, 1.5), 0.2),
    "tvs-two-way": _two_way,
    "esd": _esd,
    "fet-n": _fet(True),
    "fet-p": _fet(False),
    "ic": _ic,
    "buck": _buck,
    "linear": _pass,
    "load-switch": _pass,
    "charger": _charger,
    "crystal": _series("legs", 2e8, 5e9),
    "connector": _nothing,
    "mechanical": _nothing,
}
"""For each kind of part the law of its true insides."""


def conductors(random: Random, kind: str, pins: tuple[Pin, ...], hint: Hint) -> tuple[Conductor, ...]:
    """The true insides of a new part."""
    by_role: dict[str, list[Pin]] = {}
    for pin in pins:
        by_role.setdefault(pin.role, []).append(pin)
    return tuple(LAWS[kind](random, by_role, hint))
