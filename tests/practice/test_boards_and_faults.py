"""The shipped practice boards and faults: sane when sound, and no fault without a trace."""

from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path

import jsonschema
import pytest

import ohmwright.practice
from ohmwright.circuit import Board
from ohmwright.devices import KINDS
from ohmwright.facts import Quantity
from ohmwright.formats.board_json import board_from_json, board_to_json, read_board_json
from ohmwright.practice.fault_json import NOTHING_WRONG, Fault, read_fault_json
from ohmwright.practice.world import World

HERE = Path(ohmwright.practice.__file__).parent
DOCS = Path(__file__).resolve().parents[2] / "docs"
BOARDS = sorted((HERE / "boards").glob("*.json"))
FAULTS = sorted((HERE / "faults").glob("*.json"))
SEED = 7
CLEAR_VOLTS, CLEAR_SHARE = 0.03, 0.15
"""A change that no error of meter or touch makes: 30 mV in diode mode, 15 % in ohms."""
CAPACITORS = ("capacitor", "polymer", "unknown-two-pads")


@cache
def board_at(path: Path) -> Board:
    return read_board_json(path)


@cache
def fault_at(path: Path) -> tuple[Board, Fault]:
    name = json.loads(path.read_text(encoding="utf-8"))["board"]
    board = next(board for board in map(board_at, BOARDS) if board.name == name)
    return board, read_fault_json(path, board)


def pairs(board: Board) -> list[tuple[str, str]]:
    """What a bench asks: every net to ground, across every part of two nets, and between the pins of each IC."""
    found = {(net.name, board.ground) for net in board.nets if net.name != board.ground}
    for part in board.parts:
        if len(part.nets) <= 8 and board.ground not in part.nets[:1]:
            nets = part.nets if len(part.nets) <= 3 or part.kind in ("buck", "charger", "linear") else ()
            found |= {(a, b) for i, a in enumerate(nets) for b in nets[i + 1 :]}
    return sorted(found)


@cache
def readings(board: Board, fault: Fault) -> dict[tuple[str, str, str], float]:
    world = World(board, fault, SEED)
    out = {}
    for a, b in pairs(board):
        ohms = world.read(Quantity.OHMS, a, b)
        drop = world.read(Quantity.DIODE, b, a)
        out["ohms", a, b] = math.inf if ohms is None else ohms
        out["diode", b, a] = 3.0 if drop is None else drop
    return out


def changes(board: Board, fault: Fault) -> set[tuple[str, str, str]]:
    sound, bad = readings(board, NOTHING_WRONG), readings(board, fault)
    found = set()
    for key, was in sound.items():
        now = bad[key]
        if key[0] == "diode":
            changed = abs(now - was) > CLEAR_VOLTS
        else:
            low, high = sorted((was + 0.5, now + 0.5))
            changed = high / low > 1 + CLEAR_SHARE if math.isfinite(high) else low < 2e7
        if changed:
            found.add(key)
    return found


def test_there_are_enough() -> None:
    assert len(BOARDS) >= 4
    assert len(FAULTS) >= 16
    signs = {(fault_at(p)[0].part(d.part).kind, d.mode) for p in FAULTS for d in fault_at(p)[1].defects}
    assert len(signs) >= 8
    assert any(len(fault_at(p)[1].defects) > 1 for p in FAULTS)
    assert any(not fault_at(p)[1].defects for p in FAULTS)


@pytest.mark.parametrize("path", BOARDS, ids=lambda p: p.stem)
def test_a_board_is_whole(path: Path) -> None:
    board = board_at(path)
    assert 25 <= len(board.parts) <= 80
    assert 15 <= len(board.nets) <= 35
    assert board.entries
    for part in board.parts:
        assert part.place is not None, part.name
        roles = KINDS[part.kind].roles
        assert all(pin.role in roles for pin in part.pins) or not roles, part.name
        list(KINDS[part.kind].elements(part))
    assert all(len(board.pins_on[net.name]) >= 2 for net in board.nets)
    data = json.loads(path.read_text(encoding="utf-8"))
    assert board_from_json(board_to_json(board)) == board
    schema = json.loads((DOCS / "board.schema.json").read_text(encoding="utf-8"))
    assert jsonschema.Draft202012Validator(schema).is_valid(data)


@pytest.mark.parametrize("path", BOARDS, ids=lambda p: p.stem)
def test_places_do_not_overlap(path: Path) -> None:
    boxes = []
    for part in board_at(path).parts:
        p = part.place
        assert p is not None
        boxes.append(
            (
                part.name,
                p.x_mm - p.width_mm / 2,
                p.x_mm + p.width_mm / 2,
                p.y_mm - p.height_mm / 2,
                p.y_mm + p.height_mm / 2,
            )
        )
    over = [
        (a[0], b[0])
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a[1] < b[2] and b[1] < a[2] and a[3] < b[4] and b[3] < a[4]
    ]
    assert over == []


@pytest.mark.parametrize("path", BOARDS, ids=lambda p: p.stem)
def test_a_sound_board_reads_sane(path: Path) -> None:
    """Bands of common practice, no source: rails 0.25 to 0.75 V in diode mode, core rails by their few ohms."""
    board = board_at(path)
    found = readings(board, NOTHING_WRONG)
    for net in board.nets:
        if not net.rail or net.name == board.ground:
            continue
        drop, ohms = found["diode", board.ground, net.name], found["ohms", net.name, board.ground]
        if net.nominal is not None and net.nominal <= 1.1:
            assert 1.0 < ohms < 12.0, net.name
            assert drop < 0.02, net.name
        elif net.nominal is not None and net.nominal > 1.4:
            # Between two switches that block both ways nothing may show.
            blocked = all(
                part.kind in ("fet-n", "fet-p", *CAPACITORS, "resistor") for part, _ in board.pins_on[net.name]
            )
            assert 0.2 < drop < 0.8 or (blocked and drop == 3.0), net.name
            assert ohms > 100.0, net.name


@pytest.mark.parametrize("path", BOARDS, ids=lambda p: p.stem)
def test_coils_and_fuses_of_a_sound_board_conduct(path: Path) -> None:
    found = readings(board_at(path), NOTHING_WRONG)
    for part in board_at(path).parts:
        if part.kind in ("coil", "fuse", "ferrite", "sense", "link"):
            a, b = part.nets
            assert found.get(("ohms", a, b), found.get(("ohms", b, a), math.inf)) < 1.5, part.name


@pytest.mark.parametrize("path", FAULTS, ids=lambda p: p.stem)
def test_each_fault_changes_a_reading_clearly(path: Path) -> None:
    board, fault = fault_at(path)
    found = changes(board, fault)
    assert bool(found) == bool(fault.defects)


def test_some_faults_show_at_no_capacitor_to_ground() -> None:
    clean = []
    for path in FAULTS:
        board, fault = fault_at(path)
        at_capacitors = {
            net
            for part in board.parts
            if part.kind in CAPACITORS and board.ground in part.nets
            for net in part.nets
            if net != board.ground
        }
        seen = {key for key in changes(board, fault) if key[0] == "diode" and key[2] in at_capacitors}
        if fault.defects and not seen:
            clean.append(path.stem)
    assert len(clean) >= 6, clean


@pytest.mark.parametrize("path", FAULTS, ids=lambda p: p.stem)
def test_a_board_works_once_all_is_cured(path: Path) -> None:
    board, fault = fault_at(path)
    world = World(board, fault, SEED)
    assert world.try_board() is not bool(fault.defects)
    for defect in fault.defects:
        if defect.cleanable:
            world.clean(defect.part)
        elif defect.mode == "joint":
            world.reflow(defect.part)
        else:
            world.take_off(defect.part)
            world.replace(defect.part)
    assert world.try_board()
    assert world.hurt == []
