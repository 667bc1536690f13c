"""What truly lies between the pins of a part, drawn from ranges of the bench's own.

Nothing here is taken from the catalogue of the program; a bench that shared its numbers would only show
that the program agrees with itself. All ranges are common practice or estimates, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from ohmwright.circuit import Board, Part, Pin
from ohmwright.practice.chance import Dice, about

SUPPLY_PINS: Mapping[str, tuple[str, ...]] = {
    "ic": ("VDD",),
    "buck": ("VIN", "VCC"),
    "linear": ("IN", "OUT"),
    "load-switch": ("IN",),
    "charger": ("VIN", "VCC", "SYS"),
}
"""Roles of the pins at which each kind of IC draws current."""
CORE_VOLTS = 1.1
"""Up to this nominal a rail of a converter's own feeds a core, which shows a few ohms when all is well. [V]"""
SWITCH_ROLES = frozenset({"SW", "SW1", "SW2"})


@dataclass(frozen=True, slots=True)
class Conductor:
    """One true path between two pins of a part.

    Parameters
    ----------
    a, b : str
        Pin numbers; of a junction anode and cathode.
    size : float
        Resistance, or the junction's drop at 1 mA. [Ω or V]
    emission : float
        Emission coefficient; zero for a resistance. [1]
    series : float
        Resistance in series with a junction. [Ω]
    """

    a: str
    b: str
    size: float
    emission: float = 0.0
    series: float = 0.0


def conductors_of(board: Board, part: Part, dice: Dice) -> tuple[Conductor, ...]:
    """The paths inside a sound specimen of a part; a part of unknown kind is drawn one of its kinds."""
    drawn = _drawn_kind(part, dice)
    maker = _MAKERS.get(drawn)
    return tuple(maker(board, part, dice)) if maker else ()


def _drawn_kind(part: Part, dice: Dice) -> str:
    if part.kind != "unknown-two-pads":
        return part.kind
    weights = part.could_be or (("capacitor", 3.0), ("resistor", 1.0))
    total = sum(weight for _, weight in weights)
    return str(dice.choice([kind for kind, _ in weights], p=[weight / total for _, weight in weights]))


def _told(part: Part, name: str) -> float | None:
    """A parameter that the board's description gives, in SI units."""
    found = dict(part.parameters).get(name)
    return found.median if found else None


def _insulation(low: float, high: float) -> Callable[[Board, Part, Dice], Iterator[Conductor]]:
    def paths(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
        a, b = part.pins[0], part.pins[-1]
        yield Conductor(a.number, b.number, _between(dice, low, high))

    return paths


def _between(dice: Dice, low: float, high: float) -> float:
    """Drawn evenly on a logarithmic scale."""
    return float(low * (high / low) ** dice.random())


def _legs(part: Part) -> list[tuple[Pin, Pin]]:
    """The pin pairs of wound and resistive parts: 1-2, 3-4 and so on; of three pins all to the first."""
    pins = part.pins
    if len(pins) == 3:
        return [(pins[0], pins[1]), (pins[0], pins[2])]
    return [(pins[i], pins[i + 1]) for i in range(0, len(pins) - 1, 2)]


def _body(parameter: str, low: float, high: float) -> Callable[[Board, Part, Dice], Iterator[Conductor]]:
    def paths(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
        told = _told(part, parameter)
        for a, b in _legs(part):
            ohms = about(dice, told, 0.12) if told else _between(dice, low, high)
            yield Conductor(a.number, b.number, max(ohms, 1e-4))

    return paths


def _resistor(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    if part.value:
        marked = part.value.median
    else:
        marked = _between(dice, 0.003, 0.03) if part.kind == "sense" else _between(dice, 470.0, 220e3)
    for a, b in _legs(part):
        yield Conductor(
            a.number, b.number, max(marked * float(dice.uniform(0.991, 1.009)), 2e-3 if not marked else 1e-5)
        )


def _junctions(low: float, high: float, emission: tuple[float, float], leak: tuple[float, float]):  # type: ignore[no-untyped-def]  # a closure of the same shape as its neighbours
    def paths(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
        for a, k in _pairs(part, "anode", "cathode"):
            yield Conductor(a.number, k.number, float(dice.uniform(low, high)), float(dice.uniform(*emission)))
            yield Conductor(a.number, k.number, _between(dice, *leak))

    return paths


def _pairs(part: Part, first: str, second: str) -> Iterator[tuple[Pin, Pin]]:
    """Pins of two roles on different nets, each pair of nets once; a pin without a net is a net of its own."""
    seen: set[tuple[str, str]] = set()
    for a in part.pins_of_role(first):
        for b in part.pins_of_role(second):
            key = (a.net or f"#{a.number}", b.net or f"#{b.number}")
            if key[0] != key[1] and key not in seen:
                seen.add(key)
                yield a, b


def _esd(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    drop = float(dice.uniform(0.57, 0.68))
    for ground, line in _pairs(part, "GND", "line"):
        # The legs of one array come off one wafer, so they are near twins.
        yield Conductor(ground.number, line.number, drop + float(dice.normal(0.0, 0.003)), 1.35)
        yield Conductor(line.number, ground.number, _between(dice, 2e8, 5e9))


def _fet(anode: str, cathode: str) -> Callable[[Board, Part, Dice], Iterator[Conductor]]:
    def paths(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
        for a, k in _pairs(part, anode, cathode):
            yield Conductor(a.number, k.number, float(dice.uniform(0.42, 0.53)), float(dice.uniform(1.08, 1.25)))
            yield Conductor(a.number, k.number, _between(dice, 3e6, 2e8))
        for g, s in _pairs(part, "gate", "source"):
            yield Conductor(g.number, s.number, _between(dice, 5e8, 5e9))

    return paths


def _integrated(board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    """Junctions from ground into every pin, loads at supply pins, clamps from some signals into a supply."""
    ground = next(iter(part.pins_of_role("GND")), None)
    if ground is None:
        return
    supplies = SUPPLY_PINS[part.kind]
    seen: set[str] = set()
    rail: Pin | None = None
    for pin in part.pins:
        if pin.net is None or pin.net in seen or pin.net == ground.net or pin.role in SWITCH_ROLES:
            continue
        seen.add(pin.net)
        if pin.role in supplies:
            rail = rail or pin
            yield from _load(board, part, pin, ground, dice)
        else:
            yield Conductor(ground.number, pin.number, float(dice.uniform(0.54, 0.68)), float(dice.uniform(1.15, 1.6)))
            if rail and part.kind == "ic" and dice.random() < 0.4:
                yield Conductor(pin.number, rail.number, float(dice.uniform(0.58, 0.74)), 1.4)


def _load(board: Board, part: Part, pin: Pin, ground: Pin, dice: Dice) -> Iterator[Conductor]:
    told = _told(part, f"load_{pin.number}") or _told(part, "load")
    ohms = about(dice, told, 0.25) if told else _usual_load(board, part, pin, dice)
    yield Conductor(pin.number, ground.number, ohms)
    yield Conductor(ground.number, pin.number, float(dice.uniform(0.42, 0.58)), float(dice.uniform(1.1, 1.6)))
    # The first gates wake at about a volt, and what they draw is bounded; a pin for many volts draws least.
    volts = board.net(pin.net).nominal or 3.3 if pin.net else 3.3
    series = about(dice, 40e3 if volts > 6.0 else 2.5e3, 0.6)
    yield Conductor(pin.number, ground.number, float(dice.uniform(0.8, 1.15)), float(dice.uniform(1.8, 2.6)), series)


def _usual_load(board: Board, part: Part, pin: Pin, dice: Dice) -> float:
    """Ohms of a supply pin, by what its rail is for."""
    if part.kind != "ic":
        return _between(dice, 25e3, 600e3)
    volts = board.net(pin.net).nominal if pin.net else None
    if volts is None or volts > 2.6:
        return min(max(about(dice, 9e3, 0.9), 700.0), 150e3)
    if volts <= CORE_VOLTS and any(other.kind == "coil" for other, _ in board.pins_on[pin.net or ""]):
        return _between(dice, 3.0, 6.0)
    return about(dice, 1.2e3, 0.7) if volts > 1.4 else about(dice, 110.0, 0.7)


def _half_bridge(part: Part, switch: str, rail: str, dice: Dice) -> Iterator[Conductor]:
    for ground, sw in _pairs(part, "GND", switch):
        yield Conductor(ground.number, sw.number, float(dice.uniform(0.40, 0.49)), float(dice.uniform(1.08, 1.2)))
        yield Conductor(ground.number, sw.number, _between(dice, 2e5, 6e6))
    for sw, vin in _pairs(part, switch, rail):
        yield Conductor(sw.number, vin.number, float(dice.uniform(0.41, 0.51)), float(dice.uniform(1.08, 1.2)))
        yield Conductor(sw.number, vin.number, _between(dice, 2e6, 6e7))


def _boot(part: Part, dice: Dice) -> Iterator[Conductor]:
    for vcc, boot in _pairs(part, "VCC", "BOOT"):
        yield Conductor(vcc.number, boot.number, float(dice.uniform(0.48, 0.62)), 1.3)


def _buck(board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    yield from _integrated(board, part, dice)
    yield from _half_bridge(part, "SW", "VIN", dice)
    yield from _boot(part, dice)


def _charger(board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    yield from _integrated(board, part, dice)
    for switch, rail in (("SW", "VIN"), ("SW1", "VIN"), ("SW2", "SYS")):
        yield from _half_bridge(part, switch, rail, dice)
    for bat, sys in _pairs(part, "BAT", "SYS"):
        yield Conductor(bat.number, sys.number, float(dice.uniform(0.43, 0.52)), 1.15)
        yield Conductor(bat.number, sys.number, _between(dice, 2e6, 6e7))
    yield from _boot(part, dice)


def _pass_device(board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    yield from _integrated(board, part, dice)
    for out, vin in _pairs(part, "OUT", "IN"):
        if _told(part, "reverse_blocking") is None:
            drop, emission = float(dice.uniform(0.46, 0.60)), float(dice.uniform(1.1, 1.4))
            yield Conductor(out.number, vin.number, drop, emission)
        yield Conductor(out.number, vin.number, _between(dice, 1e6, 5e7))


def _crystal(_board: Board, part: Part, dice: Dice) -> Iterator[Conductor]:
    for a, b in combinations(part.pins, 2):
        yield Conductor(a.number, b.number, _between(dice, 5e8, 5e9))


_MAKERS: Mapping[str, Callable[[Board, Part, Dice], Iterator[Conductor]]] = {
    "capacitor": _insulation(2e8, 2e10),
    "polymer": _insulation(2e6, 5e7),
    "resistor": _resistor,
    "sense": _resistor,
    "coil": _body("winding", 0.004, 0.028),
    "ferrite": _body("body", 0.015, 0.12),
    "fuse": _body("element", 0.010, 0.055),
    "link": _body("body", 0.001, 0.008),
    "crystal": _crystal,
    "diode": _junctions(0.51, 0.62, (1.4, 1.8), (1e8, 1e9)),
    "schottky": _junctions(0.17, 0.27, (1.02, 1.12), (1e5, 4e6)),
    "led": _junctions(1.60, 1.92, (1.8, 2.3), (1e8, 1e9)),
    "tvs": _junctions(0.57, 0.69, (1.2, 1.5), (5e7, 1e9)),
    "tvs-two-way": _insulation(5e7, 1e9),
    "esd": _esd,
    "fet-n": _fet("source", "drain"),
    "fet-p": _fet("drain", "source"),
    "ic": _integrated,
    "buck": _buck,
    "linear": _pass_device,
    "load-switch": _pass_device,
    "charger": _charger,
}
