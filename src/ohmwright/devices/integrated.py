"""Integrated circuits by what lies between their pins at DC.

A pin of an integrated circuit is at least a substrate or protection junction from ground; a supply pin
is a load besides, of a resistance nobody knows (common practice puts rails at 300 Ω to 300 kΩ, core
rails at 1 to 30 Ω). Shares of failure between pin pairs are estimates.
"""

from __future__ import annotations

from collections.abc import Iterator

from ohmwright.circuit import Element, Part, Pin, Spread
from ohmwright.devices.kind import FaultMode, Kind, Mode, PassPath, junction, pair, resistive, shorted

LOAD = Spread(12e3, 1.6, "300 Ω to 300 kΩ, common practice")
SUPPLY_PIN = Spread(0.50, 0.06, "0.35 to 0.6 V at a supply pin, common practice")
SIGNAL_PIN = Spread(0.60, 0.08, "0.45 to 0.75 V at a signal pin, common practice")
FLOATING_PIN = Spread(0.85, 0.20, "0.5 V to none at all where a pin floats on a switch node, common practice")
"""Drops at 1 mA from ground to a pin. [V]"""
CLAMP = Spread(0.90, 0.20, "0.6 V where there is one; pins that stand volts without supply have none; estimate")
"""Drop at 1 mA from a signal pin up to the supply. [V]"""
POWER_ROLES = ("VIN", "IN", "OUT", "VCC", "SYS", "BAT", "VDD", "BOOT", "VOUT")


def _grounds(part: Part) -> tuple[Pin, ...]:
    return part.pins_of_role("GND")


def _one_per_net(pins: tuple[Pin, ...]) -> Iterator[Pin]:
    seen: set[str] = set()
    for pin in pins:
        if pin.net is not None and pin.net not in seen:
            seen.add(pin.net)
            yield pin


def substrate(part: Part, *, loads: tuple[str, ...], skip: tuple[str, ...] = ()) -> Iterator[Element]:
    """Ground to every pin a junction; between supply pins and ground a load."""
    ground = next(iter(_grounds(part)), None)
    if ground is None:
        return
    supplies_first = tuple(sorted(part.pins, key=lambda pin: pin.role not in loads))
    for pin in _one_per_net(supplies_first):
        if pin.net == ground.net or pin.role in skip:
            continue
        if pin.role in loads:
            load = part.parameter(f"load_{pin.number}", part.parameter("load", LOAD))
            yield from resistive(part, f"load {pin.number}", pin, ground, load.median, load.log_sd)
            drop, spread = SUPPLY_PIN.median, SUPPLY_PIN.log_sd
        elif pin.role == "BOOT":
            drop, spread = FLOATING_PIN.median, FLOATING_PIN.log_sd
        else:
            drop, spread = SIGNAL_PIN.median, SIGNAL_PIN.log_sd
        yield from junction(part, f"substrate {pin.number}", ground, pin, drop, spread)


def pin_modes(part: Part, role: str, share: float) -> Iterator[FaultMode]:
    """Short and leak from the pins of a role to ground, sharing `share` seven to three."""
    for pin, ground in pair(part, role, "GND"):
        label = f"{pin.name or pin.role or pin.number} to ground"
        yield FaultMode(Mode.SHORT, (pin.number, ground.number), label, 0.7 * share)
        yield FaultMode(Mode.LEAK, (pin.number, ground.number), label, 0.3 * share)


def _ic(part: Part) -> Iterator[Element]:
    yield from substrate(part, loads=("VDD",))
    yield from _clamps(part)


def _clamps(part: Part) -> Iterator[Element]:
    """From a signal pin up to the supply. Some parts have it, some do not, hence the wide spread."""
    supply = next(iter(part.pins_of_role("VDD")), None)
    if supply is None:
        return
    for pin in _one_per_net(part.pins):
        if pin.role in ("IO", "") and pin.net != supply.net:
            yield from junction(part, f"clamp {pin.number}", pin, supply, CLAMP.median, CLAMP.log_sd)


def _ic_modes(part: Part) -> Iterator[FaultMode]:
    supply = list(pair(part, "VDD", "GND"))
    signals = list(pair(part, "IO", "GND")) + list(pair(part, "", "GND"))
    if supply:
        yield from pin_modes(part, "VDD", 0.8 / len(supply))
    for pin, ground in signals:
        share = 0.2 / len(signals)
        label = f"{pin.name or pin.number} to ground"
        yield FaultMode(Mode.SHORT, (pin.number, ground.number), label, 0.5 * share)
        yield FaultMode(Mode.LEAK, (pin.number, ground.number), label, 0.5 * share)


def _buck(part: Part) -> Iterator[Element]:
    yield from substrate(part, loads=("VIN", "VCC"), skip=("SW",))
    low = part.parameter("low_side", Spread(0.44, 0.05))
    high = part.parameter("high_side", Spread(0.45, 0.05))
    for ground, sw in pair(part, "GND", "SW"):
        yield from junction(part, "low side body diode", ground, sw, low.median, low.log_sd, 1.15)
        yield from resistive(part, "low side, off", ground, sw, 1e6, 1.0)
    for sw, vin in pair(part, "SW", "VIN"):
        yield from junction(part, "high side body diode", sw, vin, high.median, high.log_sd, 1.15)
        yield from resistive(part, "high side, off", sw, vin, 1e7, 1.0)
    for vcc, boot in pair(part, "VCC", "BOOT"):
        yield from junction(part, "boot diode", vcc, boot, 0.55, 0.06)


def _buck_modes(part: Part) -> Iterator[FaultMode]:
    yield from shorted(part, "SW", "GND", "low side", 0.33)
    yield from shorted(part, "VIN", "SW", "high side", 0.27)
    yield from pin_modes(part, "VIN", 0.15)
    yield from pin_modes(part, "VCC", 0.12)
    yield from pin_modes(part, "EN", 0.04)
    yield from pin_modes(part, "FB", 0.03)
    yield from shorted(part, "BOOT", "SW", "boot to switch", 0.06)


def _buck_passes(part: Part) -> Iterator[PassPath]:
    return iter(())


def _linear(part: Part) -> Iterator[Element]:
    yield from substrate(part, loads=("IN", "OUT"))
    for out, vin in pair(part, "OUT", "IN"):
        yield from junction(part, "pass element", out, vin, 0.52, 0.05)
        yield from resistive(part, "pass element, off", out, vin, 3e6, 1.0)


def _linear_modes(part: Part) -> Iterator[FaultMode]:
    yield from pin_modes(part, "OUT", 0.35)
    yield from pin_modes(part, "IN", 0.30)
    yield from shorted(part, "IN", "OUT", "pass element", 0.35)


def _linear_passes(part: Part) -> Iterator[PassPath]:
    for vin, out in pair(part, "IN", "OUT"):
        yield PassPath(vin.number, out.number, 0.5, 2.5)


def _load_switch(part: Part) -> Iterator[Element]:
    yield from substrate(part, loads=("IN",))
    if "reverse_blocking" not in dict(part.parameters):
        for out, vin in pair(part, "OUT", "IN"):
            yield from junction(part, "pass FET body diode", out, vin, 0.50, 0.05, 1.15)
    for out, vin in pair(part, "OUT", "IN"):
        yield from resistive(part, "pass FET, off", out, vin, 1e7, 1.0)


def _load_switch_modes(part: Part) -> Iterator[FaultMode]:
    yield from _linear_modes(part)


def _load_switch_passes(part: Part) -> Iterator[PassPath]:
    on = part.parameter("on_resistance", Spread(0.05, 0.4)).median
    needs = part.parameter("passes", Spread(1.2, 0.3)).median
    for vin, out in pair(part, "IN", "OUT"):
        yield PassPath(vin.number, out.number, on, needs)


def _charger(part: Part) -> Iterator[Element]:
    """A switching charger with its FETs inside: input leg, output leg if there is one, battery FET."""
    yield from substrate(part, loads=("VIN", "VCC", "SYS"), skip=("SW", "SW1", "SW2"))
    for switch, rail in (("SW", "VIN"), ("SW1", "VIN"), ("SW2", "SYS")):
        for sw, vin in pair(part, switch, rail):
            yield from junction(part, f"{switch} high side body diode", sw, vin, 0.45, 0.05, 1.15)
            yield from resistive(part, f"{switch} high side, off", sw, vin, 1e7, 1.0)
        for ground, sw in pair(part, "GND", switch):
            yield from junction(part, f"{switch} low side body diode", ground, sw, 0.44, 0.05, 1.15)
            yield from resistive(part, f"{switch} low side, off", ground, sw, 1e6, 1.0)
    for bat, sys in pair(part, "BAT", "SYS"):
        yield from junction(part, "battery FET body diode", bat, sys, 0.46, 0.05, 1.15)
        yield from resistive(part, "battery FET, off", bat, sys, 1e7, 1.0)
    for vcc, boot in pair(part, "VCC", "BOOT"):
        yield from junction(part, "boot diode", vcc, boot, 0.55, 0.06)


def _charger_modes(part: Part) -> Iterator[FaultMode]:
    legs = [(s, rail) for s, rail in (("SW", "VIN"), ("SW1", "VIN"), ("SW2", "SYS")) if part.pins_of_role(s)]
    for switch, rail in legs:
        yield from shorted(part, switch, "GND", f"{switch} to ground", 0.30 / len(legs))
        yield from shorted(part, rail, switch, f"{rail} to {switch}", 0.23 / len(legs))
        yield from shorted(part, "BOOT", switch, f"boot to {switch}", 0.04 / len(legs))
    yield from pin_modes(part, "VIN", 0.12)
    yield from pin_modes(part, "VCC", 0.10)
    yield from pin_modes(part, "SYS", 0.08)
    yield from pin_modes(part, "BAT", 0.05)
    yield from shorted(part, "BAT", "SYS", "battery FET", 0.08)


def _supply_pin_names(part: Part) -> str:
    return ", ".join(pin.number for pin in part.pins if pin.role == "VDD")


_IC = "estimate after the shares of dead-board causes in common practice"
KINDS = (
    Kind("ic", "integrated circuit", 1.5, _IC, _ic, _ic_modes, roles=("VDD", "GND", "IO")),
    Kind(
        "buck",
        "buck regulator with its FETs inside",
        4.0,
        _IC,
        _buck,
        _buck_modes,
        roles=("VIN", "SW", "GND", "VCC", "BOOT", "EN", "FB", "PG", "IO"),
    ),
    Kind(
        "linear",
        "linear regulator",
        2.0,
        _IC,
        _linear,
        _linear_modes,
        _linear_passes,
        roles=("IN", "OUT", "GND", "EN", "FB", "IO"),
    ),
    Kind(
        "load-switch",
        "load switch",
        1.5,
        _IC,
        _load_switch,
        _load_switch_modes,
        _load_switch_passes,
        roles=("IN", "OUT", "GND", "EN", "IO"),
    ),
    Kind(
        "charger",
        "charger with power path",
        5.0,
        _IC,
        _charger,
        _charger_modes,
        roles=("VIN", "SW", "SW1", "SW2", "SYS", "BAT", "GND", "VCC", "BOOT", "EN", "FB", "IO"),
    ),
)
