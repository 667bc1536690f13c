"""What conducts inside a chip, pin to pin, by its family and its pins; and the test that shows it in place.

The engine gets it as a part of a kind it knows, with roles, so that its suspects are pairs of pins inside the
chip. A person gets it as sentences. Drops at 1 mA and tests are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ohmwright.circuit import Board, Part, Pin
from ohmwright.partbook.chip_readings import Reading
from ohmwright.partbook.duties import duty_of, without_number

SURE = 0.6
"""From this probability on a chip is taken to be of a family. [1] estimate"""
KIND_OF = {
    "buck": "buck", "boost": "boost", "buck-boost": "buck-boost", "linear": "linear", "load-switch": "load-switch",
    "charger": "charger",
}  # fmt: skip
"""Family to the engine's kind; all others stay plain chips."""
_ROLES: Mapping[str, Mapping[str, str]] = {
    "buck": {"VIN": "VIN", "SW": "SW", "GND": "GND", "VCC": "VCC", "BOOT": "BOOT", "EN": "EN", "FB": "FB", "PG": "PG",
    "OUT": "FB"},
    "boost": {"VIN": "VIN", "SW": "SW", "OUT": "OUT", "GND": "GND", "VCC": "VCC", "EN": "EN", "FB": "FB", "PG": "PG"},
    "buck-boost": {
        "VIN": "VIN", "SW1": "SW1", "SW2": "SW2", "OUT": "OUT", "GND": "GND", "VCC": "VCC", "BOOT": "BOOT", "EN": "EN",
        "FB": "FB", "PG": "PG",
    },
    "linear": {"VIN": "IN", "OUT": "OUT", "GND": "GND", "EN": "EN", "FB": "FB"},
    "load-switch": {"VIN": "IN", "OUT": "OUT", "GND": "GND", "EN": "EN"},
    "charger": {
        "VIN": "VIN", "VBUS": "VIN", "PMID": "VIN", "SW": "SW", "SW1": "SW1", "SW2": "SW2", "SYS": "SYS", "BAT": "BAT",
        "GND": "GND", "VCC": "VCC", "BOOT": "BOOT", "EN": "EN",
    },
    "ic": {"VCC": "VDD", "VIN": "VDD", "VBUS": "VDD", "BAT": "VDD", "SYS": "VDD", "VREF": "VDD", "GND": "GND"},
}  # fmt: skip
_NEEDS = {
    "buck": ("VIN", "SW", "GND"), "boost": ("VIN", "SW", "GND"), "buck-boost": ("VIN", "SW1", "SW2", "GND"),
    "linear": ("IN", "OUT", "GND"), "load-switch": ("IN", "OUT", "GND"), "charger": ("VIN", "BAT", "GND"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Inner:
    """One thing that conducts inside a chip.

    Parameters
    ----------
    words : str
        What it is.
    anode, cathode : str
        Names of the pins between which it lies; for a resistance the two ends.
    drop : (float, float) or None
        Range of its drop at about 1 mA when it is sound. [V]
    test : str
        What shows it without taking the chip off; empty where nothing does.
    """

    words: str
    anode: str
    cathode: str
    drop: tuple[float, float] | None
    test: str = ""


def engine_part(
    board: Board, chip: str, readings: Sequence[Reading], pin_names: Mapping[str, str] | None = None
) -> Part:
    """The chip as a part the engine knows from inside, or as it stands where its family is not sure.

    Parameters
    ----------
    readings : sequence of Reading
        As `ohmwright.partbook.chip_readings.read_chips` gives them.
    pin_names : mapping or None
        Pin number to name, where the board does not have it.
    """
    part = board.part(chip)
    chances: dict[str, float] = {}
    for reading in readings:
        if reading.chip == chip and not reading.channel:
            chances[reading.family.name] = chances.get(reading.family.name, 0.0) + reading.probability
    family = max(chances, key=lambda name: chances[name], default="")
    kind = KIND_OF.get(family, "ic") if chances.get(family, 0.0) >= SURE else "ic"
    pins = _with_roles(board, part, kind, pin_names or {})
    if not set(_NEEDS.get(kind, ())) <= {pin.role for pin in pins}:
        kind = "ic"
        pins = _with_roles(board, part, kind, pin_names or {})
    why = f"taken as {kind} with {chances.get(family, 0.0):.0%} by its pins and neighbours"
    return replace(part, kind=kind, pins=pins, source=f"{part.source}; {why}".strip("; "))


def _with_roles(board: Board, part: Part, kind: str, names: Mapping[str, str]) -> tuple[Pin, ...]:
    roles = _ROLES[kind]
    out = []
    for pin in part.pins:
        name = names.get(pin.number, pin.name)
        if not name and pin.role:
            out.append(pin)  # nobody read its name, but what it does was said
            continue
        duty = "GND" if pin.net == board.ground else duty_of(name)
        role = roles.get(duty) or roles.get(without_number(duty)) or "IO"
        out.append(replace(pin, role=role, name=pin.name or name))
    if not any(pin.role in ("VIN", "IN") for pin in out) and kind in (
        "buck",
        "boost",
        "linear",
        "load-switch",
        "charger",
    ):
        feed = "IN" if "IN" in roles.values() else "VIN"
        out = [replace(pin, role=feed) if without_number(duty_of(pin.name)) == "VCC" else pin for pin in out]
    return tuple(out)


def inner_paths(family: str, pin_names: Mapping[str, str]) -> tuple[Inner, ...]:
    """What conducts inside a chip of a family with these pins.

    Parameters
    ----------
    family : str
        Name of a typical circuit: ``buck``, ``charger``.
    pin_names : mapping
        Pin number to name.
    """
    pins: dict[str, str] = {}
    for name in pin_names.values():
        duty = duty_of(name)
        for key in (duty, without_number(duty)):
            pins.setdefault(key, name)
    found = [*_switches(family, pins), *_passing(family, pins)]
    if "BOOT" in pins and "VCC" in pins:
        found.append(Inner("bootstrap diode", pins["VCC"], pins["BOOT"], (0.35, 0.75),
                           "red on the inner supply, black on boot: a diode; OL: it is outside, or open"))  # fmt: skip
    return (*found, *_protections(pins))


def _half_bridge(low: str, switch: str, high: str, side: str) -> Iterator[Inner]:
    yield Inner(
        f"body diode of the {side}lower switch", low, switch, (0.33, 0.55),
        f"red on {low}, black on {switch}: a body diode. Near zero both ways: read again with the coil off, or "
        f"millivolts across the coil under a small feed, to tell the switch from the load",
    )  # fmt: skip
    yield Inner(
        f"body diode of the {side}upper switch", switch, high, (0.35, 0.58),
        f"red on {switch}, black on {high}: a body diode; the other way round OL. Near zero both ways: feed {high} "
        f"with at most 0.8 V and 0.5 A; if {switch} follows, the switch is shorted",
    )  # fmt: skip


def _switches(family: str, pins: Mapping[str, str]) -> Iterator[Inner]:
    ground = pins.get("GND", "GND")
    feed = pins.get("PMID") or pins.get("VIN") or pins.get("VBUS") or pins.get("VCC")
    out = pins.get("OUT") or pins.get("SYS")
    if family in ("buck-boost", "charger") and "SW1" in pins and "SW2" in pins:
        if feed:
            yield from _half_bridge(ground, pins["SW1"], feed, "input-side ")
        if out:
            yield from _half_bridge(ground, pins["SW2"], out, "output-side ")
    elif family in ("buck", "charger") and "SW" in pins and feed:
        yield from _half_bridge(ground, pins["SW"], feed, "")
    elif family == "boost" and "SW" in pins:
        bridge = list(_half_bridge(ground, pins["SW"], pins.get("OUT", ""), ""))
        yield from bridge if "OUT" in pins else bridge[:1]


def _passing(family: str, pins: Mapping[str, str]) -> Iterator[Inner]:
    feed, out = pins.get("VIN") or pins.get("VCC"), pins.get("OUT")
    if family in ("linear", "load-switch") and feed and out:
        yield Inner(
            "body diode of the pass element", out, feed, (0.40, 0.62),
            f"red on {out}, black on {feed}: a body diode, or OL where the chip blocks backwards. Near zero both ways: "
            f"feed {feed} with 0.8 V; if {out} follows, the pass element is shorted",
        )  # fmt: skip
    if family == "charger" and "BAT" in pins and "SYS" in pins:
        yield Inner(
            "body diode of the battery switch", pins["BAT"], pins["SYS"], (0.38, 0.58),
            f"red on {pins['BAT']}, black on {pins['SYS']} with the battery off: a body diode",
        )  # fmt: skip
    if family == "charger" and "PMID" in pins and ("VIN" in pins or "VBUS" in pins):
        yield Inner(
            "body diode of the blocking switch", pins.get("VBUS") or pins["VIN"], pins["PMID"], (0.38, 0.58),
            "red on the input, black on the middle rail: a body diode; the other way round OL",
        )  # fmt: skip


def _protections(pins: Mapping[str, str]) -> Iterator[Inner]:
    ground = pins.get("GND", "GND")
    for duty, name in pins.items():
        if duty and duty not in ("GND", "SW", "SW1", "SW2") and without_number(duty) == duty:
            yield Inner(
                f"protection of {name}",
                ground,
                name,
                (0.45, 0.75),
                f"red on ground, black on {name}: 0.45 to 0.75 V; near zero or OL is a finding",
            )
