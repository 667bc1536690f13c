"""The bench as a whole: what a fed board does, what hands cure, and one board by ngspice."""

from __future__ import annotations

import math
import re
import subprocess
from functools import cache
from pathlib import Path

import pytest

import ohmwright.practice
from ohmwright.circuit import Board
from ohmwright.errors import DataError, RefusedError
from ohmwright.facts import HeatFinding, LookFinding, Quantity
from ohmwright.formats.board_json import board_from_json, read_board_json
from ohmwright.practice.fault_json import NOTHING_WRONG, Fault, fault_from_json
from ohmwright.practice.gauges import OHMS_RANGES
from ohmwright.practice.scpi import SupplyVoice
from ohmwright.practice.solve import THERMAL, solved
from ohmwright.practice.world import World

BOARDS = sorted((Path(ohmwright.practice.__file__).parent / "boards").glob("*.json"))
SEEDS = (1, 2, 3)


@cache
def board_at(path: Path) -> Board:
    return read_board_json(path)


def greenhouse(seed: int = 5, *, running: bool = True, **defect: object) -> World:
    board = board_at(next(p for p in BOARDS if p.stem == "greenhouse"))
    fault = fault_from_json({"defects": [defect]}, board) if defect else NOTHING_WRONG
    return World(board, fault, seed, running=running)


def feed(world: World, net: str, volts: float, limit: float) -> tuple[float, float, bool]:
    world.switch(False)
    world.clip(net, world.board.ground)
    world.set_supply(volts, limit)
    world.switch(True)
    return world.display()


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("path", BOARDS, ids=lambda p: p.stem)
def test_a_sound_board_runs_within_its_ratings(path: Path, seed: int) -> None:
    """At its label's volts every rail stands at its nominal value, and the supply is far from its limit."""
    world = World(board_at(path), NOTHING_WRONG, seed, running=True)
    entry = world.board.entries[0]
    label = world.board.net(entry).nominal
    assert label is not None
    volts, amps, limiting = feed(world, entry, label, 1.0)
    assert not limiting
    assert volts == pytest.approx(label, rel=0.01)
    assert 0.002 < amps < 0.5
    assert world.hurt == []
    coils = [part for part in world.board.parts if part.kind == "coil" and len(part.nets) == 2]
    for net in {net for coil in coils for net in coil.nets}:
        nominal = world.board.net(net).nominal
        if nominal is not None and world.board.net(net).rail:
            assert world.read(Quantity.VOLTS, net, world.board.ground) == pytest.approx(nominal, rel=0.03), net


@pytest.mark.parametrize("path", BOARDS, ids=lambda p: p.stem)
def test_no_converter_starts_at_low_volts(path: Path) -> None:
    world = World(board_at(path), NOTHING_WRONG, 4, running=True)
    entry = world.board.entries[0]
    _, amps, limiting = feed(world, entry, 0.8, 0.5)
    assert not limiting
    assert amps < 0.01
    assert world._fed is not None
    assert not world._fed.running


def test_a_running_rail_with_a_short_takes_the_supply_to_its_limit() -> None:
    world = greenhouse(part="C12", mode="short", ohms=0.35)
    assert feed(world, "V24IN", 24.0, 0.3)[2]
    assert not feed(greenhouse(), "V24IN", 24.0, 0.3)[2]
    volts, amps, limiting = feed(world, "V24IN", 0.8, 0.3)
    assert (limiting, amps < 0.01) == (False, True), (volts, amps)


def test_a_fed_short_obeys_ohm() -> None:
    """0.35 Ω at a limit of 1 A: what the supply shows is the short and its leads, by Ohm's law."""
    world = greenhouse(part="C12", mode="short", ohms=0.35)
    volts, amps, limiting = feed(world, "V33", 0.8, 1.0)
    assert limiting
    assert amps == pytest.approx(1.0, abs=0.02)
    assert volts == pytest.approx(0.35 + world.supply.leads, abs=0.02)
    assert world.read(Quantity.VOLTS, "V33", "GND") == pytest.approx(0.35, abs=0.01)
    assert world.feel("camera") == (HeatFinding.PART, ("C12",))


def test_millivolts_tell_the_side() -> None:
    """With the converter's switch node shorted the coil carries the current; with a capacitor shorted it does not."""
    behind = greenhouse(part="U1", mode="short", pins=["SW", "GND"], ohms=0.2)
    outputs = [p for p in behind.board.parts if p.kind == "capacitor" and set(p.nets) == {"V5", "GND"}]
    before = greenhouse(part=outputs[0].name, mode="short", ohms=0.2)
    coil = next(p for p in behind.board.parts if p.kind == "coil" and set(p.nets) == {"SW5", "V5"})
    feed(behind, "V5", 0.8, 1.0)
    carried = behind.read(Quantity.VOLTS, "V5", "SW5")
    winding = behind.specimen.inside(coil)[0].size
    assert carried == pytest.approx(1.0 * winding, rel=0.1, abs=3e-4)
    feed(before, "V5", 0.8, 1.0)
    assert before.read(Quantity.VOLTS, "V5", "SW5") == pytest.approx(0.0, abs=4e-4)


def test_a_failed_high_side_hurts_what_is_behind_and_is_counted() -> None:
    world = greenhouse(part="U1", mode="short", pins=["VIN", "SW"], ohms=0.3)
    feed(world, "V24IN", 0.8, 0.3)
    assert world.hurt == []
    feed(world, "V24IN", 24.0, 1.0)
    assert "V5" in {hurt.net for hurt in world.hurt}
    assert all(hurt.volts > hurt.rated for hurt in world.hurt)


def test_converters_run_unless_told_to_rest() -> None:
    awake, resting = greenhouse(), greenhouse(running=False)
    for world in (World(awake.board, NOTHING_WRONG, 5), awake, resting):
        feed(world, "V24IN", 24.0, 0.3)
        assert world._fed is not None
        assert ("U1" in world._fed.running) is (world is not resting)


def test_the_supply_tells_on_the_wire_that_it_limits() -> None:
    world = greenhouse(part="C12", mode="short", ohms=0.35)
    voice = SupplyVoice(world).speaker
    assert voice.answer("STAT:QUES:COND?") == "0"
    feed(world, "V33", 0.8, 1.0)
    assert voice.answer("STATUS:QUESTIONABLE:CONDITION?") == "1"


@pytest.mark.parametrize(
    ("defect", "cure", "leaves"),
    [
        ({"part": "C12", "mode": "short"}, "replace", ("refit", "reflow", "clean")),
        ({"part": "C12", "mode": "dirt", "ohms": 1500}, "clean", ("reflow", "replace")),
        ({"part": "FB1", "mode": "joint", "pins": ["2"]}, "reflow", ("clean",)),
        ({"part": "J1", "mode": "solder bridge", "pins": ["1", "2"]}, "clean", ()),
    ],
)
def test_only_the_right_deed_cures(defect: dict[str, object], cure: str, leaves: tuple[str, ...]) -> None:
    part = str(defect["part"])
    for deed in leaves:
        world = greenhouse(**defect)
        if deed == "refit":
            world.take_off(part)
        getattr(world, deed)(part)
        assert not world.try_board(), deed
    world = greenhouse(**defect)
    assert not world.try_board()
    getattr(world, cure)(part)
    assert world.try_board()


def test_a_faulty_part_keeps_its_fault_in_the_hand() -> None:
    world = greenhouse(part="C12", mode="short", ohms=0.35)
    world.take_off("C12")
    loose = world.read(Quantity.PART_OHMS, "C12.1", "C12.2")
    assert loose == pytest.approx(0.35 + world.meter.leads, abs=0.25)
    world.replace("C12")
    world.take_off("C12")
    assert world.read(Quantity.PART_OHMS, "C12.1", "C12.2") is None


def test_hands_wait_for_the_supply_to_go_off() -> None:
    world = greenhouse()
    with pytest.raises(RefusedError):
        world.switch(True)
    feed(world, "V5", 0.8, 0.1)
    for deed in (world.take_off, world.replace, world.reflow, world.clean):
        with pytest.raises(RefusedError):
            deed("C12")
    assert world.read(Quantity.OHMS, "V5", "GND") is None
    world.switch(False)
    world.read(Quantity.OHMS, "V5", "GND")
    assert len(world.mistakes) == 2
    world.discharge()
    world.read(Quantity.OHMS, "V5", "GND")
    assert len(world.mistakes) == 2
    with pytest.raises(DataError):
        world.read(Quantity.PART_OHMS, "C12.1", "C12.2")


def test_errors_persist_and_readings_scatter() -> None:
    """Looks and heat repeat; the meter's figures scatter a little from touch to touch."""
    world = greenhouse(part="C12", mode="short", ohms=0.35, looks="crack", seen=0.5)
    every = tuple(world.board.part_by_name)
    assert world.look(every) == world.look(every)
    feed(world, "V33", 0.8, 1.0)
    assert world.feel("finger") == world.feel("finger")
    world.switch(False)
    world.discharge()
    shown = [world.read(Quantity.DIODE, "GND", "V5") for _ in range(12)]
    assert None not in shown
    assert len(set(shown)) > 1
    assert max(r or 0.0 for r in shown) - min(r or 0.0 for r in shown) < 0.01


def test_a_crack_is_seen_as_often_as_the_file_says() -> None:
    """Binomial, 300 boards at one half: within 5 standard deviations."""
    seen = sum(
        greenhouse(seed, part="C12", mode="short", looks="crack", seen=0.5).look(["C12"])["C12"] is LookFinding.CRACK
        for seed in range(300)
    )
    assert abs(seen - 150) < 5 * (300 * 0.25) ** 0.5


@pytest.mark.slow
def test_a_whole_board_agrees_with_ngspice(tmp_path: Path) -> None:
    """Volts of every net of the sound greenhouse board under three stimuli, against ngspice, which shares no code."""
    world = greenhouse()
    nets = [net.name for net in world.board.nets if net.name != "GND"]
    for number, (plus, minus, amps, volts, ohms) in enumerate(
        [("GND", "V33", 1e-3, 3.0, 150.0), ("V24IN", "GND", 0.3, 0.8, 0.05), ("V5", "GND", 1.0, 0.5, OHMS_RANGES[0][0])]
    ):
        network = world.specimen.network()
        network.sources.append((plus, minus, amps, volts, ohms))
        ours = solved(network).volts
        theirs = _ngspice(network, tmp_path / f"{number}.cir")
        assert len(nets) > 20
        for net in nets:
            assert ours.get(net, 0.0) == pytest.approx(theirs.get(net.lower(), 0.0), abs=1e-3), (number, net)


def _ngspice(network: object, path: Path) -> dict[str, float]:
    names: dict[str, str] = {"GND": "0"}

    def node(name: str) -> str:
        return names.setdefault(name, f"x{len(names)}")

    lines = ["a practice board", ".options temp=27 tnom=27 gmin=1e-15 reltol=1e-6 abstol=1e-15"]
    lines += [f"R{i} {node(a)} {node(b)} {r:.15g}" for i, (a, b, r) in enumerate(network.resistances)]  # type: ignore[attr-defined]  # any network
    for i, (a, b, drop, n) in enumerate(network.junctions):  # type: ignore[attr-defined]  # any network
        saturation = 1e-3 * math.exp(-drop / (n * THERMAL))
        lines += [f"D{i} {node(a)} {node(b)} m{i}", f".model m{i} D(IS={saturation:.15g} N={n:.15g})"]
    for i, (a, b, amps, volts, ohms) in enumerate(network.sources):  # type: ignore[attr-defined]  # any network
        drive = f"max(0,min({amps:.15g},({volts:.15g}-v({node(a)},{node(b)}))/{ohms:.15g}))"
        lines.append(f"B{i} {node(b)} {node(a)} I={drive}")
    lines += [f"RG{x} {x} 0 1e13" for x in names.values() if x != "0"]
    path.write_text("\n".join([*lines, ".control", "set numdgt=12", "op", "print all", ".endc", ".end"]) + "\n")
    run = subprocess.run(["ngspice", "-b", path], capture_output=True, text=True, timeout=60, check=False)
    found = dict(re.findall(r"^(x\d+) = (\S+)$", run.stdout, re.MULTILINE))
    assert found, run.stdout[-600:] + run.stderr[-600:]
    return {name.lower(): float(found[x]) for name, x in names.items() if x in found}


def test_a_foreign_board_plays() -> None:
    """A board and a fault nobody here wrote: two parts, a divider, no places, no ratings."""
    board = board_from_json({
        "name": "night light", "nets": [{"name": "V9", "nominal": 9, "rail": True}],
        "parts": [
            {"name": "R1", "kind": "resistor", "pins": ["V9", "MID"], "value": "1k"},
            {"name": "R2", "kind": "resistor", "pins": ["MID", "GND"], "value": "1k"},
            {"name": "X1", "kind": "unknown-two-pads", "pins": ["MID", None]},
        ], "entries": ["V9"],
    })  # fmt: skip
    world = World(board, Fault("f"), 1)
    assert world.read(Quantity.OHMS, "V9", "GND") == pytest.approx(2000.0, rel=0.02)
    feed(world, "V9", 9.0, 0.1)
    assert world.read(Quantity.VOLTS, "MID", "GND") == pytest.approx(4.5, rel=0.02)
    assert world.feel("camera")[0] in HeatFinding
