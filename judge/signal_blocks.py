"""Blocks that live on the rails: processors, small chips, ports, shifters, supervisors, lamps."""

from __future__ import annotations

from judge.draft import Draft
from judge.laws import log_uniform
from judge.world import Awake
from ohmwright.circuit import Spread


def _awake(draft: Draft, number: str, rail: str, most: float) -> tuple[Awake, ...]:
    """What a chip draws at one supply pin once it is up."""
    volts = draft.volts[rail]
    return (Awake(number, 0.8 * volts, log_uniform(draft.luck, 3e-4, most)),) if volts > 0.5 else ()


def processor(draft: Draft, rails: tuple[str, ...], signals: int, *, io: str, stem: str) -> list[str]:
    """A chip with several supply pins, a crystal and that many signals; the nets of its signals."""
    draft.block()
    luck = draft.luck
    nets = [draft.signal(f"{stem}_IO{k}", draft.volts[io]) for k in range(signals)]
    legs = [draft.signal(f"{stem}_X{k}", draft.volts[io]) for k in (1, 2)]
    wires = [("1", "VDD", io), ("2", "GND", draft.ground), ("3", "GND", draft.ground)]
    awake = _awake(draft, "1", io, 0.06)
    for k, rail in enumerate(rails):
        for twin in range(4 if rail in draft.cores else 1 + int(luck.random() < 0.4)):
            number = f"P{k}{chr(97 + twin)}"
            wires.append((number, "VDD", rail))
            awake += _awake(draft, number, rail, 0.3 if rail in draft.cores else 0.05)
    wires += [(f"X{k}", "IO", leg) for k, leg in enumerate(legs)]
    wires += [(f"S{k}", "IO", net) for k, net in enumerate(nets)]
    draft.add("ic", wires, package=f"array {len(wires)}", awake=awake)
    draft.two("crystal", legs[0], legs[1], value=Spread(float(luck.choice([32768.0, 24e6, 25e6])), 1e-4, "marking"))
    for leg in legs:
        draft.capacitor(leg, 1.8e-11)
    for rail in dict.fromkeys((io, *rails)):
        draft.capacitors(rail, int(luck.integers(2, 5)))
    return nets


def small_chip(draft: Draft, rail: str, stem: str, shared: list[str] | None = None, pins: int = 3) -> list[str]:
    """A sensor, memory or logic chip; its own new signal nets."""
    draft.block()
    luck = draft.luck
    own = [draft.signal(f"{stem}_{k}", draft.volts[rail]) for k in range(pins)]
    wires = [("1", "VDD", rail), ("2", "GND", draft.ground)]
    wires += [(str(3 + k), "IO", net) for k, net in enumerate([*(shared or []), *own])]
    draft.add("ic", wires, awake=_awake(draft, "1", rail, 0.02))
    draft.capacitors(rail, 1)
    for net in own:
        if luck.random() < 0.35:
            draft.resistor(rail, net, float(luck.choice([4.7e3, 1e4, 4.7e4])))
        elif luck.random() < 0.4:
            far = draft.signal(f"{net}_R", draft.volts[rail])
            draft.resistor(net, far, float(luck.choice([22.0, 33.0, 100.0])))
            draft.capacitor(far, 1e-11)
    return own


def bus(draft: Draft, rail: str, stem: str) -> list[str]:
    """Two pulled-up lines."""
    nets = [draft.signal(f"{stem}_{w}", draft.volts[rail]) for w in ("SCL", "SDA")]
    for net in nets:
        draft.resistor(rail, net, float(draft.luck.choice([2.2e3, 4.7e3, 1e4])))
    return nets


def port(draft: Draft, rail: str, lines: list[str], stem: str) -> None:
    """A connector with a rail, lines through series parts, and an ESD array on them."""
    draft.block()
    luck = draft.luck
    outside = []
    for net in lines:
        far = draft.signal(f"{stem}_{net}", draft.volts[net])
        if luck.random() < 0.8:
            draft.resistor(net, far, float(luck.choice([10.0, 22.0, 33.0, 100.0, 470.0])))
        else:
            draft.two("ferrite", net, far)
        outside.append(far)
    draft.add("esd", [("3", "GND", draft.ground), *((f"L{k}", "line", net) for k, net in enumerate(outside))])
    wires = [("1", "", rail), *((str(2 + k), "", net) for k, net in enumerate(outside))]
    wires.append((str(2 + len(outside)), "", draft.ground))
    draft.add("connector", wires, package=f"{len(wires)} way")
    draft.capacitors(rail, 1)


def shifter(draft: Draft, low: str, high: str, lines: list[str], stem: str) -> list[str]:
    """A level shifter; the nets on its high side."""
    draft.block()
    far = [draft.signal(f"{stem}_{k}", draft.volts[high]) for k in range(len(lines))]
    wires = [("1", "VDD", low), ("2", "VDD", high), ("3", "GND", draft.ground)]
    wires += [(f"A{k}", "IO", net) for k, net in enumerate(lines)]
    wires += [(f"B{k}", "IO", net) for k, net in enumerate(far)]
    draft.add("ic", wires, awake=_awake(draft, "1", low, 0.005))
    draft.capacitors(low, 1)
    draft.capacitors(high, 1)
    for net in far:
        if draft.luck.random() < 0.5:
            draft.resistor(high, net, 1e4)
    return far


def supervisor(draft: Draft, rail: str, watched: str, stem: str) -> str:
    """A reset chip with a divider and a pull-up; the reset net."""
    draft.block()
    reset = draft.signal(f"{stem}_RST", draft.volts[rail])
    tap = draft.signal(f"{stem}_TAP", 0.6)
    draft.resistor(watched, tap, max(1e4 * (draft.volts[watched] / 0.6 - 1.0), 100.0))
    draft.resistor(tap, draft.ground, 1e4)
    draft.add("ic", (("1", "VDD", rail), ("2", "GND", draft.ground), ("3", "IO", reset), ("4", "IO", tap)))
    draft.resistor(rail, reset, 1e4)
    draft.capacitor(rail, 1e-7)
    return reset


def lamp(draft: Draft, rail: str, stem: str) -> None:
    """A lamp with its resistor."""
    net = draft.signal(f"{stem}_LED", draft.volts[rail])
    draft.resistor(rail, net, float(draft.luck.choice([330.0, 1e3, 4.7e3])))
    draft.diode("led", net, draft.ground)


def sense_divider(draft: Draft, rail: str, stem: str) -> str:
    """A divider that lets a converter see a rail; its middle."""
    tap = draft.signal(f"{stem}_ADC", 2.0)
    draft.resistor(rail, tap, max(1e4 * (draft.volts[rail] / 1.5 - 1.0), 1e3))
    draft.resistor(tap, draft.ground, 1e4)
    draft.capacitor(tap, 1e-7)
    return tap
