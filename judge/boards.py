"""Generated boards: families of power trees with what lives on them, from 15 to 500 nets."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from judge import power_blocks as power
from judge import signal_blocks as signals
from judge.draft import Draft
from judge.world import Drive, World, random_of

Rails = list[str]


def _fill(draft: Draft, rails: Rails, enough: int) -> None:
    """Add small blocks on the given rails until the board has nets enough."""
    luck = draft.luck
    low = [r for r in rails if draft.volts[r] <= 5.5 and r not in draft.cores] or rails
    lines = signals.bus(draft, low[0], "BUS")
    k = 0
    while draft.size < enough:
        k += 1
        rail, draw = str(luck.choice(low)), float(luck.random())
        left = enough - draft.size
        if draw < 0.36 or left < 4:
            shared = lines[:2] if luck.random() < 0.5 and draft.volts[lines[0]] == draft.volts[rail] else None
            signals.small_chip(draft, rail, f"CH{k}", shared, pins=min(int(luck.integers(1, 7)), max(left, 1)))
        elif draw < 0.50:
            signals.lamp(draft, rail, f"K{k}")
        elif draw < 0.62:
            signals.sense_divider(draft, str(luck.choice(rails)), f"K{k}")
        elif draw < 0.74 and left > 8:
            own = signals.small_chip(draft, rail, f"PT{k}", None, pins=min(int(luck.integers(2, 6)), left // 2))
            signals.port(draft, rail, own, f"J{k}")
        elif draw < 0.80:
            low.append(power.filtered(draft, rail, f"{rail}_A{k}"))
        elif draw < 0.88 and left > 6 and draft.volts[rail] > 1.5:
            low.append(power.load_switch(draft, rail, f"{rail}_S{k}"))
        elif draw < 0.94 and left > 5 and draft.volts[rail] > 2.4:
            rails.append(power.linear(draft, rail, f"LV{k}", float(luck.choice([1.2, 1.5, 1.8, 2.5]) * 0.9)))
        elif left > 10:
            other = str(luck.choice(low))
            near = [draft.signal(f"LS{k}_{n}", draft.volts[rail]) for n in range(int(luck.integers(2, 5)))]
            signals.shifter(draft, rail, other, near, f"LS{k}H")


def _notebook(draft: Draft, enough: int) -> None:
    luck = draft.luck
    source = power.input_switch(draft, power.barrel_entry(draft, float(luck.choice([12.0, 19.5, 20.0]))), sense=True)
    pack = float(luck.choice([8.4, 12.6])) if draft.volts[source] > 15.0 else 8.4
    system, _ = power.charger(draft, source, pack + 0.3, pack)
    standby = power.linear(draft, system, "P3V3_AON", 3.3)
    five = power.controlled_buck(draft, system, "P5V_SYS", 5.0, power.linear(draft, system, "P5V_AON", 5.0))
    three = power.buck(draft, system, "P3V3_SYS", 3.3, enabled_by=standby)
    rails = [standby, five, three]
    if enough > 90:
        rails.append(power.buck(draft, system, "P1V8", 1.8, enabled_by=standby))
        rails.append(power.buck(draft, five, "P1V05", 1.05, enabled_by=three))
    cores: Rails = []
    if enough > 130:
        cores.append(power.core(draft, system, "VCORE", 0.9, int(luck.integers(2, 5)), five))
    if enough > 220:
        cores.append(power.core(draft, system, "VGFX", 0.85, int(luck.integers(1, 4)), five))
    if enough > 170:
        rails.append(power.boost(draft, system, "VBACKLIGHT", float(luck.choice([24.0, 30.0, 36.0]))))
    rails.append(power.load_switch(draft, three, "P3V3_SSD", enabled_by=standby))
    signals.supervisor(draft, standby, three, "EC")
    n = max(4, min((enough - draft.size) // 4, 40))
    pins = signals.processor(draft, (standby,), max(n // 2, 3), io=standby, stem="EC")
    if enough > 90:
        signals.processor(draft, (*cores, *rails[3:5]), n, io=three, stem="SOC")
    if enough > 60:
        signals.port(draft, power.load_switch(draft, five, "USB_PWR", enabled_by=standby), pins[:3], "USBA")
    _fill(draft, rails, enough)


def _tablet(draft: Draft, enough: int) -> None:
    luck = draft.luck
    source = power.usb_entry(draft, float(luck.choice([5.0, 9.0])))
    if luck.random() < 0.5 and enough > 60:
        source = power.input_switch(draft, source, sense=False)
    system, _ = power.charger(draft, source, 4.1, 3.8)
    standby = power.linear(draft, system, "VDD_RTC", 1.8)
    rails = [power.buck(draft, system, "VDD_1V8", 1.8, amps=2.0, enabled_by=standby)]
    rails.append(power.linear(draft, system, "VDD_3V0", 3.0, enabled_by=standby))
    if enough > 80:
        rails += [power.buck(draft, system, "VDD_DDR", 1.1, amps=2.0, enabled_by=standby)]
        rails += [power.linear(draft, rails[0], f"VDD_A{k}", v) for k, v in enumerate((1.2, 0.8))]
    cores: Rails = []
    if enough > 110:
        cores.append(power.core(draft, system, "VDD_CPU", 0.8, 2, system))
    if enough > 120:
        rails.append(power.boost(draft, system, "VLED", 21.0))
    n = max(3, min((enough - draft.size) // 3, 36))
    signals.processor(draft, (*cores, *rails[1:3]), n, io=rails[0], stem="AP")
    rails.append(power.load_switch(draft, rails[1], "VDD_CAM"))
    _fill(draft, [*rails, standby], enough)


def _server_card(draft: Draft, enough: int) -> None:
    luck = draft.luck
    draft.block()
    edge = draft.rail("P12V_EDGE", 12.0, 6.0)
    draft.entries.append((edge, 12.0))
    wires = [(str(k), "", edge) for k in (1, 2, 3)] + [(str(k), "", draft.ground) for k in (4, 5, 6)]
    draft.add("connector", wires, package="edge 6 way")
    draft.diode("tvs", draft.ground, edge)
    main = power.hot_swap(draft, edge)
    standby = power.linear(draft, edge, "P3V3_STBY", 3.3)
    five = power.buck(draft, main, "P5V0", 5.0, enabled_by=standby)
    rails = [standby, power.buck(draft, main, "P3V3", 3.3, amps=8.0, enabled_by=standby), five]
    cores: Rails = []
    for name, volts, floor in (("P0V9_CORE", 0.9, 70), ("P0V8_SERDES", 0.8, 160), ("P0V85_MEM", 0.85, 260)):
        if enough > floor:
            cores.append(power.core(draft, main, name, volts, int(luck.integers(1, 5)), five))
    for name, volts, floor in (("P1V8", 1.8, 60), ("P1V2", 1.2, 110), ("P2V5", 2.5, 150), ("P1V0", 1.0, 200)):
        if enough > floor:
            rails.append(power.buck(draft, main if luck.random() < 0.5 else five, name, volts, enabled_by=standby))
    signals.supervisor(draft, standby, rails[1], "SYS")
    n = max(4, min((enough - draft.size) // 3, 60))
    signals.processor(draft, (*cores, *rails[3:]), n, io=rails[1], stem="ASIC")
    _fill(draft, rails, enough)


def _sensor_node(draft: Draft, enough: int) -> None:
    luck = draft.luck
    source = power.usb_entry(draft)
    rails = [power.linear(draft, source, "V3P3", 3.3)]
    if enough > 35:
        rails.append(power.linear(draft, source, "V1P8", 1.8))
    if enough > 28:
        signals.processor(draft, (), max(2, min((enough - draft.size) // 2, 16)), io=rails[0], stem="MCU")
    if luck.random() < 0.5 and enough > 40:
        rails.append(power.load_switch(draft, rails[0], "V3P3_RF"))
    _fill(draft, rails, enough)


def _industrial(draft: Draft, enough: int) -> None:
    luck = draft.luck
    source = power.barrel_entry(draft, 24.0)
    guarded = draft.rail("V24_G", 24.0, 3.0)
    if luck.random() < 0.5:
        draft.diode("schottky", source, guarded)
    else:
        gate = draft.signal("G_GUARD", 24.0)
        wires = (("1", "source", guarded), ("4", "gate", gate), ("5", "drain", source))
        draft.add("fet-p", wires, drives=(Drive("5", "1", 0.02, 10.0, gate="4"),))
        draft.resistor(gate, draft.ground, 1e5)
        draft.resistor(gate, guarded, 1e5)
    draft.capacitors(guarded, 3, bulk=2)
    five = power.buck(draft, guarded, "V5", 5.0)
    rails = [five, power.linear(draft, five, "V3V3", 3.3)]
    if enough > 70:
        rails.append(power.buck(draft, five, "V1V2", 1.2, enabled_by=rails[1]))
    if enough > 60:
        rails.append(power.boost(draft, five, "V15", 15.0))
    signals.supervisor(draft, rails[1], five, "WD")
    pins = signals.processor(draft, tuple(rails[2:3]), max(4, min((enough - draft.size) // 3, 40)), io=rails[1],
                             stem="CPU")  # fmt: skip
    far = signals.shifter(draft, rails[1], five, pins[:3], "OUTS")
    signals.port(draft, five, far, "FIELD")
    if enough > 90:
        drivers = power.load_switch(draft, guarded, "V24_OUT")
        signals.port(draft, drivers, signals.small_chip(draft, five, "DRV", pins=4), "RELAY")
    _fill(draft, rails, enough)


def _healthy_core(draft: Draft, enough: int) -> None:
    """A board that is mostly rails of a few ohms."""
    luck = draft.luck
    draft.block()
    main = draft.rail("V12", 12.0, 6.0)
    draft.entries.append((main, 12.0))
    draft.add("connector", (("1", "", main), ("2", "", main), ("3", "", draft.ground)), package="power 3 way")
    draft.capacitors(main, 3, bulk=2)
    five = power.buck(draft, main, "V5", 5.0)
    three = power.linear(draft, five, "V3", 3.3)
    cores = [power.core(draft, main, "VA", 0.85, int(luck.integers(2, 6)), five)]
    if enough > 80:
        cores.append(power.core(draft, main, "VB", 0.75, int(luck.integers(1, 4)), five))
    rails = [five, three]
    if enough > 70:
        rails.append(power.buck(draft, main, "V1V35", 1.35, enabled_by=three))
    n = max(4, min((enough - draft.size) // 3, 40))
    signals.processor(draft, (*cores, *rails[2:]), n, io=three, stem="DIE")
    _fill(draft, rails, enough)


PLANS: Mapping[str, Callable[[Draft, int], None]] = {
    "notebook": _notebook,
    "tablet": _tablet,
    "server-card": _server_card,
    "sensor-node": _sensor_node,
    "industrial": _industrial,
    "healthy-core": _healthy_core,
}
LEAST: Mapping[str, int] = {
    "notebook": 62, "tablet": 42, "server-card": 45, "sensor-node": 15, "industrial": 45, "healthy-core": 55,
}  # fmt: skip
"""Fewest nets of each family that its power tree fits in. [1]"""


def board_of(family: str, seed: str, nets: tuple[int, int] = (15, 500)) -> World:
    """A healthy board of a family with about that many nets; the same words give the same board."""
    luck = random_of("size", seed, family)
    low, high = max(nets[0], LEAST[family]), max(nets[1], LEAST[family])
    if family == "sensor-node":
        low, high = min(low, 60), min(high, 60)
    # Each octave of sizes alike, so that small boards are as common as large ones.
    enough = round(float(low * (high / low) ** luck.random()))
    draft = Draft(f"{family}-{seed}", family, f"{family}|{seed}")
    PLANS[family](draft, enough)
    return draft.world()
