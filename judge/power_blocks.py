"""Blocks of a power tree: entries, switches, regulators of every sort, chargers. Each adds itself to a draft.

Topologies are common practice, no source; all component values are invented.
"""

from __future__ import annotations

from judge.draft import Draft
from judge.laws import log_uniform
from judge.world import Awake, Drive
from ohmwright.circuit import Spread

COIL = Spread(2.2e-6, 0.3, "marking")


def barrel_entry(draft: Draft, volts: float) -> str:
    """A jack with detect contact, ferrite, fuse and TVS; the net behind them."""
    draft.block()
    luck = draft.luck
    jack = draft.rail("DC_JACK", volts, 4.0)
    draft.entries.append((jack, volts))
    detect = draft.signal("JACK_DET", 3.3)
    draft.add("connector", (("1", "", jack), ("2", "", draft.ground), ("3", "", detect)), package="DC jack 2.5 mm")
    behind = jack
    if luck.random() < 0.7:
        fused = draft.rail("DC_FUSED", volts, 4.0)
        draft.two("fuse", jack, fused, value=Spread(float(luck.choice([5.0, 7.0, 10.0])), 0.1, "marking"))
        behind = fused
    if luck.random() < 0.7:
        quiet = draft.rail("DC_QUIET", volts, 4.0)
        for _ in range(int(luck.integers(1, 3))):
            draft.two("ferrite", behind, quiet, value=Spread(120.0, 0.2, "list"))
        behind = quiet
    if luck.random() < 0.5:
        draft.diode("tvs", draft.ground, behind)
    else:
        draft.two("tvs-two-way", behind, draft.ground)
    draft.capacitors(behind, int(luck.integers(2, 5)))
    draft.resistor(behind, detect, 1e5 * volts / 3.3)
    draft.resistor(detect, draft.ground, 1e5)
    return behind


def usb_entry(draft: Draft, volts: float = 5.0) -> str:
    """A USB-C port that takes power: CC pull-downs, data lines with an ESD array; the net behind it."""
    draft.block()
    luck = draft.luck
    bus = draft.rail("VBUS", volts, 2.5)
    draft.entries.append((bus, volts))
    lines = [draft.signal(stem, 3.3) for stem in ("CC1", "CC2", "USB_DP", "USB_DN")]
    wires = [("A4", "", bus), ("A9", "", bus), ("A12", "", draft.ground)]
    wires += [(number, "", net) for number, net in zip(("A5", "B5", "A6", "A7"), lines, strict=True)]
    draft.add("connector", wires, package="USB-C 16")
    for line in lines[:2]:
        draft.resistor(line, draft.ground, 5100.0)
    esd = [("1", "line", lines[2]), ("2", "GND", draft.ground), ("3", "line", lines[3])]
    draft.add("esd", esd)
    if luck.random() < 0.6:
        draft.diode("tvs", draft.ground, bus)
    behind = draft.rail("VBUS_F", volts, 2.5)
    draft.two("fuse" if luck.random() < 0.5 else "ferrite", bus, behind)
    draft.capacitors(behind, int(luck.integers(2, 4)))
    return behind


def input_switch(draft: Draft, source: str, *, sense: bool) -> str:
    """Two FETs back to back with their gate parts, perhaps a sense resistor; the net behind."""
    draft.block()
    luck = draft.luck
    volts = draft.volts[source]
    middle, out = draft.rail("SW_MID", volts, 4.0), draft.rail("V_MAIN", volts, 4.0)
    gate = draft.signal("SW_GATE", volts + 6.0)
    needs = volts * float(luck.uniform(0.5, 0.75))
    kind = "fet-p" if luck.random() < 0.5 else "fet-n"
    wires_in = (("1", "source", middle), ("4", "gate", gate), ("5", "drain", source))
    wires_out = (("1", "source", middle), ("4", "gate", gate), ("5", "drain", out))
    for wires, from_pin, to_pin in ((wires_in, "5", "1"), (wires_out, "1", "5")):
        ohms = log_uniform(luck, 0.004, 0.02)
        draft.add(kind, wires, drives=(Drive(from_pin, to_pin, ohms, needs, gate="4"),))
    draft.resistor(gate, middle, float(luck.choice([1e5, 2.2e5, 4.7e5, 1e6])))
    draft.capacitor(gate, 1e-8, to=middle)
    draft.capacitors(out, int(luck.integers(2, 5)), bulk=int(luck.integers(0, 2)))
    if not sense:
        return out
    after = draft.rail("V_SENSED", volts, 4.0)
    draft.two("sense", out, after, value=Spread(0.01, 0.01, "marking"))
    draft.capacitors(after, 3)
    return after


def hot_swap(draft: Draft, source: str) -> str:
    """A controller with one N-channel FET and a sense resistor; the net behind."""
    draft.block()
    luck = draft.luck
    volts = draft.volts[source]
    sensed, out = draft.rail("HS_SENSE", volts, 5.0), draft.rail("V_HOT", volts, 5.0)
    gate, timer, good = draft.signal("HS_GATE", volts + 5), draft.signal("HS_TIMER", 1.2), draft.signal("HS_PG", 3.3)
    draft.two("sense", source, sensed, value=Spread(0.004, 0.01, "marking"))
    wires = [(str(k), "source", out) for k in (1, 2, 3)] + [("4", "gate", gate), ("5", "drain", sensed)]
    ohms = log_uniform(luck, 0.002, 0.008)
    draft.add("fet-n", wires, drives=(Drive("5", "1", ohms, 0.7 * volts, gate="4"),))
    chip = [("1", "VDD", source), ("2", "GND", draft.ground), ("3", "IO", gate), ("4", "IO", timer), ("5", "IO", good)]
    draft.add("ic", chip, awake=(Awake("1", 0.6 * volts, 2e-3),))
    draft.capacitor(timer, 1e-7)
    draft.capacitors(out, 3, bulk=2)
    return out


def _feedback(draft: Draft, out: str, reference: float) -> str:
    """A divider from an output down to a reference; its middle."""
    bottom = float(draft.luck.choice([5.1e3, 1e4, 2e4, 3.3e4]))
    middle = draft.signal(f"FB_{out}", reference)
    draft.resistor(out, middle, bottom * (draft.volts[out] / reference - 1.0))
    draft.resistor(middle, draft.ground, bottom)
    return middle


def _enable(draft: Draft, source: str, out: str, enabled_by: str | None) -> str:
    """An enable net, pulled up to another rail, or through a divider from the source."""
    luck = draft.luck
    if enabled_by is not None:
        net = draft.signal(f"EN_{out}", draft.volts[enabled_by])
        draft.resistor(enabled_by, net, float(luck.choice([1e4, 4.7e4, 1e5])))
    else:
        volts = draft.volts[source]
        net = draft.signal(f"EN_{out}", 3.3)
        draft.resistor(source, net, max(1e5 * (volts / 2.6 - 1.0), 1e3))
        draft.resistor(net, draft.ground, 1e5)
    if luck.random() < 0.5:
        draft.capacitor(net, 1e-8)
    return net


def buck(
    draft: Draft, source: str, out_name: str, volts: float, *, amps: float = 4.0, enabled_by: str | None = None
) -> str:
    """A buck regulator with its FETs inside, coil, divider, capacitors; its output rail."""
    draft.block()
    luck = draft.luck
    out = draft.rail(out_name, volts, 3.0)
    high = draft.volts[source]
    sw, boot = draft.signal(f"SW_{out}", high), draft.signal(f"BOOT_{out}", high + 5.0)
    vcc, good = draft.signal(f"VCC_{out}", min(5.0, high)), draft.signal(f"PG_{out}", draft.volts[enabled_by or out])
    reference = float(luck.choice([0.5, 0.6, 0.6, 0.8]))
    reference = min(reference, 0.9 * volts)
    feedback = _feedback(draft, out, reference)
    enable = _enable(draft, source, out, enabled_by)
    wires = [("1", "VIN", source), ("2", "VIN", source), ("3", "SW", sw), ("4", "GND", draft.ground)]
    wires += [("5", "VCC", vcc), ("6", "BOOT", boot), ("7", "EN", enable), ("8", "FB", feedback), ("9", "PG", good)]
    needs = max(0.55 * high, min(2.6, 0.85 * high))
    drives = (
        Drive("1", "5", 2.0, needs * 0.8, min(5.0, 0.97 * high), 0.06),
        Drive("1", "3", 0.012, needs, volts, amps, 0.88, enable="7", feedback="8", reference=reference),
    )
    draft.add("buck", wires, drives=drives, value=Spread(volts, 0.01, "list"))
    draft.two("coil", sw, out, value=COIL)
    draft.capacitor(boot, 1e-7, to=sw)
    draft.capacitor(vcc, 1e-6)
    draft.resistor(out if enabled_by is None else enabled_by, good, 1e5)
    draft.capacitors(source, int(luck.integers(2, 4)))
    draft.capacitors(out, int(luck.integers(3, 7)), bulk=int(luck.integers(0, 2)))
    return out


def controlled_buck(draft: Draft, source: str, out_name: str, volts: float, vcc: str) -> str:
    """A controller with two FETs outside; its output rail."""
    draft.block()
    luck = draft.luck
    out, high = draft.rail(out_name, volts, 4.0), draft.volts[source]
    phase, boot = draft.signal(f"PH_{out}", high), draft.signal(f"BST_{out}", high + 5.0)
    upper, lower = draft.signal(f"HG_{out}", high + 5.0), draft.signal(f"LG_{out}", 5.0)
    good, own = draft.signal(f"PG_{out}", draft.volts[vcc]), draft.rail(f"VCC_{out}", draft.volts[vcc], 0.5)
    reference = min(float(luck.choice([0.6, 0.7, 0.8])), 0.9 * volts)
    feedback = _feedback(draft, out, reference)
    enable = _enable(draft, source, out, vcc)
    draft.resistor(vcc, own, float(luck.choice([1.0, 2.2, 4.7, 10.0])))
    draft.capacitor(own, 1e-6)
    high_side = [(str(k), "drain", source) for k in (5, 6)] + [("1", "source", phase), ("4", "gate", upper)]
    low_side = [("5", "drain", phase)] + [(str(k), "source", draft.ground) for k in (1, 2, 3)] + [("4", "gate", lower)]
    draft.add("fet-n", high_side)
    for _ in range(int(luck.integers(1, 3))):
        draft.add("fet-n", low_side)
    wires = [("1", "VDD", own), ("2", "GND", draft.ground), ("3", "IO", upper), ("4", "IO", lower), ("5", "IO", phase)]
    wires += [("6", "IO", boot), ("7", "IO", enable), ("8", "IO", feedback), ("9", "IO", good), ("10", "VDD", source)]
    drive = Drive("10", "5", 0.01, 0.5 * high, volts, 8.0, 0.9, enable="7", feedback="8", reference=reference)
    draft.add("ic", wires, drives=(drive,), awake=(Awake("1", 3.0, 3e-3),))
    draft.two("coil", phase, out, value=COIL)
    draft.capacitor(boot, 1e-7, to=phase)
    draft.resistor(vcc, good, 1e5)
    draft.capacitors(source, 3, bulk=1)
    draft.capacitors(out, int(luck.integers(3, 6)), bulk=int(luck.integers(1, 3)))
    return out


def core(draft: Draft, source: str, name: str, volts: float, phases: int, vcc: str) -> str:
    """A multi-phase rail whose load is a few ohms when all is well; the rail."""
    draft.block()
    luck = draft.luck
    out, high = draft.rail(name, volts, 12.0, core=True), draft.volts[source]
    ready = draft.signal(f"{name}_RDY", 3.3)
    control = [("1", "VDD", vcc), ("2", "GND", draft.ground), ("3", "IO", ready)]
    for k in range(phases):
        draft.block()
        sw, boot = draft.signal(f"{name}_SW{k + 1}", high), draft.signal(f"{name}_BT{k + 1}", high + 5.0)
        pulse = draft.signal(f"{name}_PWM{k + 1}", 3.3)
        control.append((str(4 + k), "IO", pulse))
        wires = [("1", "VIN", source), ("2", "SW", sw), ("3", "GND", draft.ground), ("4", "VCC", vcc)]
        wires += [("5", "BOOT", boot), ("6", "EN", ready), ("7", "IO", pulse)]
        drive = Drive("1", "2", 0.01, 0.55 * high, volts, 25.0, 0.88, enable="6")
        draft.add("buck", wires, drives=(drive,), value=Spread(volts, 0.05, "list"))
        draft.two("coil", sw, out, value=Spread(2.2e-7, 0.2, "marking"))
        draft.capacitor(boot, 1e-7, to=sw)
        draft.capacitors(source, 2)
        draft.capacitor(vcc, 1e-6)
    draft.block()
    draft.add("ic", control, awake=(Awake("1", 3.0, 8e-3),))
    draft.resistor(vcc, ready, 2.2e4)
    draft.resistor(ready, draft.ground, 4.7e4)
    draft.capacitors(out, int(luck.integers(5, 12)), bulk=int(luck.integers(2, 5)))
    return out


def boost(draft: Draft, source: str, name: str, volts: float) -> str:
    """A boost converter with coil and Schottky diode; its output rail."""
    draft.block()
    out, low = draft.rail(name, volts, 1.0), draft.volts[source]
    sw = draft.signal(f"SW_{out}", volts)
    reference = 1.2
    feedback, enable = _feedback(draft, out, reference), draft.signal(f"EN_{out}", low)
    draft.resistor(source, enable, 1e5)
    wires = [("1", "VDD", source), ("2", "GND", draft.ground), ("3", "IO", sw), ("4", "IO", enable)]
    wires += [("5", "IO", feedback), ("6", "IO", out)]
    drive = Drive("1", "6", 1.0, 0.7 * low, volts, 0.35, 0.82, enable="4", feedback="5", reference=reference)
    draft.add("ic", wires, drives=(drive,), awake=(Awake("1", 0.7 * low, 1e-3),))
    draft.two("coil", source, sw, value=Spread(1e-5, 0.2, "marking"))
    draft.diode("schottky", sw, out)
    draft.capacitors(source, 2)
    draft.capacitors(out, 3)
    return out


def linear(draft: Draft, source: str, name: str, volts: float, *, enabled_by: str | None = None) -> str:
    """A linear regulator; its output rail."""
    draft.block()
    luck = draft.luck
    out, high = draft.rail(name, volts, 1.0), draft.volts[source]
    wires = [("1", "IN", source), ("2", "GND", draft.ground), ("5", "OUT", out)]
    enable = None
    if luck.random() < 0.6:
        enable = "3"
        wires.append(("3", "EN", source if enabled_by is None else _enable(draft, source, out, enabled_by)))
    limit = float(luck.choice([0.5, 0.8, 1.2, 2.0]))
    drive = Drive("1", "5", 0.08, max(min(volts + 0.15, 0.9 * high), 1.6), volts, limit, enable=enable)
    draft.add("linear", wires, drives=(drive,), value=Spread(volts, 0.01, "marking"))
    draft.capacitors(source, 1)
    draft.capacitors(out, int(luck.integers(1, 4)))
    return out


def load_switch(draft: Draft, source: str, name: str, *, enabled_by: str | None = None) -> str:
    """A load switch; the rail behind it."""
    draft.block()
    luck = draft.luck
    volts = draft.volts[source]
    out = draft.rail(name, volts, 1.2)
    net = _enable(draft, source, out, enabled_by or source)
    wires = [("1", "IN", source), ("2", "GND", draft.ground), ("3", "EN", net), ("4", "OUT", out)]
    fault = None
    if luck.random() < 0.4:
        fault = draft.signal(f"FLT_{out}", volts)
        wires.append(("5", "IO", fault))
        draft.resistor(source, fault, 1e5)
    drive = Drive("1", "4", log_uniform(luck, 0.02, 0.12), min(1.6, 0.7 * volts), enable="3")
    draft.add("load-switch", wires, both_ways=bool(luck.random() < 0.35), drives=(drive,))
    draft.capacitors(source, 1)
    draft.capacitors(out, int(luck.integers(1, 4)))
    return out


def charger(draft: Draft, source: str, system_volts: float, pack_volts: float) -> tuple[str, str]:
    """A charger whose coil makes the system rail; the system rail and its own small supply."""
    draft.block()
    luck = draft.luck
    high = draft.volts[source]
    four_switch = luck.random() < 0.5
    system = draft.rail("VSYS", system_volts, 6.0)
    pack, cell = draft.rail("VBAT", pack_volts, 4.0), draft.rail("BAT_CONN", pack_volts, 4.0)
    vcc = draft.rail("CHG_VCC", min(5.0, high), 0.6)
    sw, boot = draft.signal("CHG_SW", high), draft.signal("CHG_BST", high + 5.0)
    clock, data = draft.signal("CHG_SCL", 3.3), draft.signal("CHG_SDA", 3.3)
    wires = [("1", "VIN", source), ("2", "SW1" if four_switch else "SW", sw), ("4", "SYS", system)]
    wires += [("5", "BAT", pack)]
    wires += [
        ("6", "GND", draft.ground),
        ("7", "VCC", vcc),
        ("8", "BOOT", boot),
        ("9", "IO", clock),
        ("10", "IO", data),
    ]
    drives = [Drive("1", "7", 2.0, 0.4 * high, min(5.0, 0.97 * high), 0.08)]
    needs = 0.7 * high
    if four_switch:
        far = draft.signal("CHG_SW2", system_volts)
        wires.append(("3", "SW2", far))
        drives.append(Drive("1", "2", 0.02, needs, system_volts, 6.0, 0.92))
        drives.append(Drive("3", "4", 0.02, 0.6 * system_volts))
        draft.two("coil", sw, far, value=COIL)
    else:
        drives.append(Drive("1", "2", 0.02, needs, system_volts, 6.0, 0.92))
        draft.two("coil", sw, system, value=COIL)
    draft.add("charger", wires, drives=tuple(drives))
    draft.capacitor(boot, 1e-7, to=sw)
    draft.capacitor(vcc, 1e-6)
    draft.two("sense", pack, cell, value=Spread(0.01, 0.01, "marking"))
    sense_id = draft.signal("BAT_ID", draft.volts[vcc])
    contacts = (("1", "", cell), ("2", "", sense_id), ("3", "", clock), ("4", "", data), ("5", "", draft.ground))
    draft.add("connector", contacts, package="pack 5 way")
    draft.resistor(vcc, sense_id, 1e5)
    draft.capacitors(source, 3)
    draft.capacitors(pack, 2)
    draft.capacitors(system, int(luck.integers(4, 9)), bulk=int(luck.integers(1, 4)))
    return system, vcc


def filtered(draft: Draft, source: str, name: str) -> str:
    """A quiet branch of a rail behind a ferrite or a link; its net."""
    out = draft.rail(name, draft.volts[source], 0.8)
    draft.two("ferrite" if draft.luck.random() < 0.7 else "link", source, out)
    draft.capacitors(out, int(draft.luck.integers(1, 4)))
    return out
