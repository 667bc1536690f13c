"""The practice solver against ngspice, which shares no code with it, and against closed forms."""

from __future__ import annotations

import math
import re
import subprocess
from pathlib import Path

import pytest

import ohmwright.practice
from ohmwright.facts import Quantity
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.fault_json import read_fault_json
from ohmwright.practice.solve import GMIN, THERMAL, Network, solved
from ohmwright.practice.specimen import Specimen
from ohmwright.practice.world import World

HERE = Path(ohmwright.practice.__file__).parent
CASES = (
    ("greenhouse", "greenhouse-five-down", 3),
    ("recorder", "recorder-two-caps", 4),
    ("panel", "panel-standby-high", 5),
    ("logger", "logger-thirsty", 6),
)
AGREEMENT = 0.5e-3
"""Largest difference allowed; as between ngspice and the program's own solver. [V]"""


def specimen(board: str, fault: str, seed: int) -> Specimen:
    read = read_board_json(HERE / "boards" / f"{board}.json")
    return Specimen(read, read_fault_json(HERE / "faults" / f"{fault}.json", read), seed)


def ngspice(network: Network, work: Path) -> dict[str, float]:
    """Every node's volts by name. [V]"""
    names: dict[str, str] = {network.ground: "0"}

    def node(name: str) -> str:
        return names.setdefault(name, f"n{len(names)}")

    lines = ["practice", ".options temp=27 tnom=27 gmin=1e-15 reltol=1e-6 abstol=1e-15"]
    for i, (a, b, ohms) in enumerate(network.resistances):
        lines.append(f"R{i} {node(a)} {node(b)} {ohms:.15g}")
    for i, (a, k, drop, emission, *_) in enumerate(network.junctions):
        current = 1e-3 * math.exp(-drop / (emission * THERMAL))
        lines += [f"D{i} {node(a)} {node(k)} m{i}", f".model m{i} D(IS={current:.15g} N={emission:.15g})"]
    for i, (a, b, amps, volts, ohms) in enumerate(network.sources):
        drive = f"max(0,min({amps:.15g},({volts:.15g}-v({node(a)},{node(b)}))/{ohms:.15g}))"
        lines.append(f"B{i} {node(b)} {node(a)} I={drive.replace(',0)', ')')}")
    lines += [f"RG{k} {n} 0 {1 / GMIN:g}" for k, n in enumerate(list(names.values())[1:])]
    lines += [".control", "set numdgt=12", "op", "print all", ".endc", ".end"]
    path = work / "practice.cir"
    path.write_text("\n".join(lines) + "\n")
    run = subprocess.run(["ngspice", "-b", path], capture_output=True, text=True, timeout=60, check=False)
    found = {n: float(v) for n, v in re.findall(r"^(n\d+) = (\S+)$", run.stdout, re.MULTILINE)}
    assert found, run.stdout[-800:] + run.stderr[-800:]
    return {name: found[n] for name, n in names.items() if n in found}


@pytest.mark.parametrize(("board", "fault", "seed"), CASES, ids=[case[1] for case in CASES])
def test_a_whole_board_as_ngspice_has_it(board: str, fault: str, seed: int, tmp_path: Path) -> None:
    """Diode mode at three rails, ohms at one, a feed at another."""
    one = specimen(board, fault, seed)
    rails = [net.name for net in one.board.nets if net.rail]
    drives = [("GND", rail, 1e-3, 3.0, 150.0) for rail in rails[:3]]
    drives += [(rails[-1], "GND", 1.0, 0.5, 1000.0), (rails[2], "GND", 1.0, 0.8, 0.05)]
    for drive in drives:
        network = one.network()
        network.sources.append(drive)
        ours, theirs = solved(network), ngspice(network, tmp_path)
        for name, volts in theirs.items():
            assert ours.volts[name] == pytest.approx(volts, abs=AGREEMENT), (drive, name)


def test_a_divider_behind_a_limited_source() -> None:
    """Ohm's law."""
    network = Network("0", [("a", "b", 1000.0), ("b", "0", 2000.0)], sources=[("a", "0", 1e-3, 30.0, 10.0)])
    answer = solved(network)
    assert answer.volts["b"] == pytest.approx(2.0, rel=1e-6)
    assert answer.source_amps[0] == pytest.approx(1e-3)
    network.sources = [("a", "0", 1.0, 3.0, 0.0001)]
    assert solved(network).volts["b"] == pytest.approx(2.0, rel=1e-6)


def test_a_junction_has_its_drop_at_one_milliampere() -> None:
    """By Shockley's equation the drop grows by n kT/q ln 10 per decade."""
    for amps, more in ((1e-3, 0.0), (1e-4, -1.0), (1e-2, 1.0)):
        network = Network("0", junctions=[("a", "0", 0.55, 1.3)], sources=[("a", "0", amps, 9.0, 1.0)])
        assert solved(network).volts["a"] == pytest.approx(0.55 + more * 1.3 * THERMAL * math.log(10.0), abs=1e-5)


def test_a_closed_switch_and_a_short_behind_it_share_the_volts() -> None:
    """Kirchhoff: what the supply gives flows through leads, switch and short in turn."""
    one = specimen("greenhouse", "greenhouse-no-relays", 9)
    world = World(one.board, one.fault, 9)
    world.clip("V5", "GND")
    world.set_supply(5.0, 0.5)
    world.switch(True)
    volts, amps, limiting = world.display()
    assert limiting
    short, switch = world.read(Quantity.VOLTS, "V5REL", "GND"), world.read(Quantity.VOLTS, "V5", "V5REL")
    assert short is not None
    assert switch is not None
    assert short == pytest.approx(0.6 * 0.5, rel=0.05)
    assert volts == pytest.approx(short + switch + amps * world.supply.leads, abs=0.01)


def test_readings_of_a_live_board_are_counted_as_mistakes() -> None:
    one = specimen("logger", "logger-thirsty", 1)
    world = World(one.board, one.fault, 1)
    world.clip("SYS", "GND")
    world.set_supply(0.8, 0.1)
    world.switch(True)
    assert world.read(Quantity.OHMS, "SYS", "GND") is None
    world.switch(False)
    world.read(Quantity.OHMS, "SYS", "GND")
    assert len(world.mistakes) == 2
    world.discharge()
    ohms = world.read(Quantity.OHMS, "SYS", "GND")
    assert ohms is not None
    assert ohms < 2.9e3
