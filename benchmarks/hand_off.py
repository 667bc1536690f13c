"""What the part book's hand-off to the engine is worth on boards of which only pin names are known.

Practice boards with every regulator, charger and switch made a plain chip whose pins have their names and nothing
else, as somebody has them who drew the board and typed the pins. A short is put between two pins of a chip, or
across a part beside it; the same few readings are taken each time; the engine is asked with the board as it was
typed, and with the board as the part book hands it over. Told are the probability of the true part, that of the
true part and pins, and how often each stands first.

    python benchmarks/hand_off.py [--boards logger,recorder] [--seed 3]
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ohmwright.circuit import Board
from ohmwright.diagnosis import diagnose
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards
from ohmwright.practice.fault_json import Defect, Fault
from ohmwright.practice.world import World
from ohmwright.usecases.map_board import pins_named
from ohmwright.usecases.part_book import opened_up
from ohmwright.usecases.pasted_pins import PinRow

CHIPS = ("buck", "boost", "buck-boost", "charger", "linear", "load-switch")
PAIRS = (("VIN", "SW"), ("SW", "GND"), ("IN", "OUT"), ("OUT", "GND"))
"""Pins between which a chip of that make shorts; the upper switch first."""


@dataclass(frozen=True)
class Told:
    """What the engine made of one fault: probabilities of the part, and of part and pins; what stood first."""

    part: float
    pins: float
    first: str


def typed(board: Board) -> Board:
    """The board as somebody typed it: chips with named pins, their makes not told."""
    for part in board.parts:
        if part.kind not in CHIPS:
            continue
        bare = replace(part, kind="ic", pins=tuple(replace(pin, role="", name="") for pin in part.pins), parameters=())
        board = board.with_part(bare)
        for named in pins_named(
            board, part.name, [PinRow((pin.number,), pin.name or pin.role) for pin in part.pins if pin.name or pin.role]
        ):
            chip, _, number = named.pad.rpartition(".")
            now = board.part(chip)
            pins = tuple(
                replace(pin, role=named.role, name=named.name) if pin.number == number else pin for pin in now.pins
            )
            board = board.with_part(replace(now, pins=pins))
    return board


def faults_of(board: Board) -> Iterator[Fault]:
    """A short between two pins of each chip, and for each chip one across a capacitor beside it, as a control."""
    for part in board.parts:
        if part.kind not in CHIPS:
            continue
        for a, b in PAIRS:
            first, second = part.pins_of_role(a), part.pins_of_role(b)
            if first and second and first[0].net != second[0].net:
                pins = (first[0].number, second[0].number)
                yield Fault(f"{part.name} {a}-{b}", "", (Defect(part.name, "short", pins, 0.4),))
        out = next((net for net in part.nets if board.net(net).rail and net != board.ground), "")
        held = (p for p, _ in board.pins_on.get(out, ()) if p.kind == "capacitor" and board.ground in p.nets)
        beside = next(held, None)
        if beside is not None:
            pins = (beside.pins[0].number, beside.pins[1].number)
            yield Fault(f"{beside.name} short", "", (Defect(beside.name, "short", pins, 0.4),))


def survey(board: Board, fault: Fault, seed: int) -> Facts:
    """Ohms of each rail to ground, and ohms and diode mode around the chips beside what is wrong."""
    world = World(board, fault, seed)
    bad = board.part(fault.defects[0].part)
    near = [net for net in bad.nets if net != board.ground]
    probes = [(Quantity.OHMS, net.name, board.ground) for net in board.nets if net.rail and net.name != board.ground]
    probes += [(Quantity.OHMS, net, board.ground) for net in near if not board.net(net).rail]
    probes += [(Quantity.OHMS, a, b) for k, a in enumerate(near) for b in near[k + 1 :] if board.net(a).rail]
    probes += [(Quantity.DIODE, board.ground, net) for net in near]
    readings = tuple(
        Reading(quantity, red, black, world.read(quantity, red, black), Facts().state, key=f"e{n}")
        for n, (quantity, red, black) in enumerate(dict.fromkeys(probes), 1)
    )
    return Facts(readings=readings, discharged=True)


def told(board: Board, facts: Facts, fault: Fault) -> Told:
    """What the engine makes of it."""
    _, diagnosis = diagnose(board, facts)
    defect = fault.defects[0]
    nets = {board.part(defect.part).pin(number).net for number in defect.pins}
    right = [s for s in diagnosis.suspects if s.part == defect.part]
    exact = [s for s in right if _nets(board, s.where) == nets]
    first = diagnosis.suspects[0]
    return Told(sum(s.probability for s in right), sum(s.probability for s in exact), f"{first.part} {first.words}")


def _nets(board: Board, where: tuple[str, ...]) -> set[str | None]:
    return {board.net_at(spot) for spot in where if spot in board.net_by_name or "." in spot}


def compared(names: tuple[str, ...], seed: int) -> Iterator[tuple[str, Told, Told]]:
    """For each fault: its name, the answer without the part book, the answer with it."""
    for name in names:
        board = read_board_json(boards()[name])
        plain = typed(board)
        known = opened_up(plain)
        for fault in faults_of(board):
            facts = survey(board, fault, seed)
            yield f"{name} {fault.name}", told(plain, facts, fault), told(known, facts, fault)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--boards", default="greenhouse,logger,panel,recorder")
    parser.add_argument("--seed", type=int, default=3)
    asked = parser.parse_args()
    began, rows = time.perf_counter(), []
    for name, without, given in compared(tuple(asked.boards.split(",")), asked.seed):
        rows.append((name, without, given))
        before, after = f"{without.part:5.2f} {without.pins:5.2f}", f"{given.part:5.2f} {given.pins:5.2f}"
        print(f"{name:30} {before} -> {after}  {given.first}")
    groups = {"inside chips": [r for r in rows if "-" in r[0]], "controls": [r for r in rows if "-" not in r[0]]}
    for what, chosen in groups.items():
        n = max(1, len(chosen))
        for label, answers in (("without", [r[1] for r in chosen]), ("with", [r[2] for r in chosen])):
            part, pins = sum(a.part for a in answers) / n, sum(a.pins for a in answers) / n
            half = sum(a.pins > 0.5 for a in answers)
            print(f"{what} {label:8} n = {len(chosen)}: part {part:.2f}, part and pins {pins:.2f}, above a half {half}")
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
