"""Real boards: their map by the program's own reader of KiCad files, their insides by the judge's laws."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from judge.laws import Hint, Pins, conductors, log_uniform
from judge.world import Awake, Conductor, Drive, Random, TrueNet, TruePart, World, random_of
from ohmwright.circuit import Board, Part, Pin, Place
from ohmwright.errors import FileFormatError
from ohmwright.formats.kicad_board import read_kicad_board

DEMOS = Path("/usr/share/kicad/demos")
"""Where Debian's package kicad-demos puts its boards."""
WORTH = (12, 1500)
"""Nets a board must have to be of use. [1]"""
JOINING = ("ferrite", "fuse", "link", "sense", "coil")
GUESSES = (("capacitor", 0.55), ("resistor", 0.3), ("ferrite", 0.1), ("link", 0.05))
"""What parts of two pads and unknown kind truly are."""


class NoBoards(FileNotFoundError):
    """No board file to examine with."""


@lru_cache(maxsize=32)
def board_file(path: str) -> Board:
    """The board of a file, read once."""
    return read_kicad_board(path)


@lru_cache(maxsize=1)
def demo_files() -> tuple[str, ...]:
    """Boards of the package kicad-demos that are of use."""
    found = []
    for path in sorted(DEMOS.rglob("*.kicad_pcb")):
        try:
            board = board_file(str(path))
        except FileFormatError:
            continue
        if WORTH[0] <= len(board.nets) <= WORTH[1] and any(net.rail for net in board.nets):
            found.append(str(path))
    if not found:
        raise NoBoards("no board files: install the package kicad-demos, or name files")
    return tuple(found)


def world_of_file(path: str, seed: str) -> World:
    """The healthy true board of a file; the same words give the same board."""
    board = board_file(path)
    luck = random_of("imported", Path(path).name, seed)
    volts = _volts(board, luck)
    parts = tuple(_part(board, part, volts, random_of("inside", Path(path).name, seed, part.name)) for part in board)
    entries = board.entries[:2] or _widest(board)
    nets = tuple(
        TrueNet(
            net.name,
            volts[net.name] if net.rail else (0.0 if net.name == board.ground else None),
            max(_highest(board, net.name, volts) * float(luck.uniform(1.25, 1.7)), 1.2),
            net.rail,
            2.5 if net.rail else 0.2,
        )
        for net in board.nets
    )
    return World(Path(path).stem, "imported", board.ground, nets, parts, entries, tuple(volts[n] for n in entries))


def _volts(board: Board, luck: Random) -> dict[str, float]:
    """Volts each net works at: those its name says, those of a rail it is joined to, else one of the usual ones;
    signals the least rail.
    """
    rails = {net.name: net.nominal for net in board.nets if net.rail and net.nominal}
    for _ in range(4):
        for part in board.parts:
            if part.kind in JOINING and len(part.nets) == 2:
                for a, b in (part.nets, part.nets[::-1]):
                    if a in rails and board.net(b).rail:
                        rails.setdefault(b, rails[a])
    known = sorted(rails.values()) or [3.3, 5.0]
    for net in board.nets:
        if net.rail and net.name != board.ground:
            drawn = float(luck.choice(known))
            rails.setdefault(net.name, drawn)
    usual = min((v for v in rails.values() if v >= 2.4), default=3.3)
    return {net.name: 0.0 if net.name == board.ground else rails.get(net.name, usual) for net in board.nets}


def _highest(board: Board, net: str, volts: dict[str, float]) -> float:
    """Most volts that a net may see in use: its own, or for a signal those of the rails beside it. [V]"""
    true = board.net(net)
    if net == board.ground or (true.rail and true.nominal):
        return volts[net]
    if true.rail:
        # Nobody says what it works at: what it stands is then taken for the most on the board.
        return max(volts.values())
    beside = {other for part, _ in board.pins_on[net] for other in part.nets if board.net(other).rail}
    return max([volts[net], *(volts[other] for other in beside)])


def _widest(board: Board) -> tuple[str, ...]:
    rails = [net.name for net in board.nets if net.rail and net.name != board.ground]
    return (max(rails, key=lambda name: len(board.pins_on[name])),) if rails else ()


def _part(board: Board, part: Part, volts: dict[str, float], luck: Random) -> TruePart:
    kind = part.kind
    if kind == "unknown-two-pads" and board.ground in part.nets:
        kind = "capacitor"
    elif kind == "unknown-two-pads":
        kind = str(luck.choice([k for k, _ in GUESSES], p=[w for _, w in GUESSES]))
    ohms = part.value.median if part.value is not None and kind == "resistor" else log_uniform(luck, 50.0, 2e5)
    hint = Hint(volts, frozenset(), max(ohms, 1e-3))
    place = part.place or Place(0.0, 0.0)
    pins = _turned(board, part)
    inside = _inside(kind, pins, hint, luck)
    drives = tuple(_drives(board, kind, pins, volts))
    awake = tuple(
        Awake(pin.number, 0.85 * volts[pin.net], log_uniform(luck, 5e-4, 3e-2))
        for pin in pins
        if kind == "ic" and pin.role == "VDD" and pin.net is not None and volts[pin.net] > 1.0
    )
    stands = part.rating.volts
    return TruePart(part.name, kind, pins, place, inside, part.value, part.package, drives, awake, stands)


def _turned(board: Board, part: Part) -> tuple[Pin, ...]:
    """The pins; those of a diode that would conduct from a rail to ground the other way round, as nobody builds."""
    anodes, cathodes = part.pins_of_role("anode"), part.pins_of_role("cathode")
    if part.kind == "led" or not (anodes and cathodes) or cathodes[0].net != board.ground:
        return part.pins
    if anodes[0].net is None or not board.net(anodes[0].net).rail:
        return part.pins
    other = {"anode": "cathode", "cathode": "anode"}
    return tuple(replace(pin, role=other.get(pin.role, pin.role), name="") for pin in part.pins)


def _inside(kind: str, pins: tuple[Pin, ...], hint: Hint, luck: Random) -> tuple[Conductor, ...]:
    """By the law of the kind; where the file does not tell the pins apart, clamps to ground at most."""
    joined = tuple(pin for pin in pins if pin.net is not None)
    if len({pin.net for pin in joined}) < 2:
        return ()
    roles = Counter(pin.role for pin in joined)
    needs = {
        "diode": ("anode", "cathode"), "schottky": ("anode", "cathode"), "led": ("anode", "cathode"),
        "tvs": ("anode", "cathode"), "fet-n": ("gate", "source", "drain"), "fet-p": ("gate", "source", "drain"),
    }.get(kind, ())  # fmt: skip
    if any(not roles[role] for role in needs):
        return ()
    return conductors(luck, kind, joined, hint)


def _drives(board: Board, kind: str, pins: tuple[Pin, ...], volts: dict[str, float]) -> list[Drive]:
    by_role: Pins = {
        role: [p for p in pins if p.role == role and p.net is not None] for role in ("IN", "OUT", "VIN", "SW")
    }
    if kind == "linear" and by_role["IN"] and by_role["OUT"]:
        source, sink = by_role["IN"][0], by_role["OUT"][0]
        high, low = volts[source.net or ""], volts[sink.net or ""]
        if high > low + 0.2:
            return [Drive(source.number, sink.number, 0.08, min(low + 0.2, 0.9 * high), low, 1.0)]
    if kind == "load-switch" and by_role["IN"] and by_role["OUT"]:
        source, sink = by_role["IN"][0], by_role["OUT"][0]
        return [Drive(source.number, sink.number, 0.06, 0.6 * volts[source.net or ""])]
    if kind == "buck" and by_role["VIN"] and by_role["SW"]:
        source, sink = by_role["VIN"][0], by_role["SW"][0]
        out, high = _behind_coil(board, sink.net or ""), volts[source.net or ""]
        if out is not None and volts[out] < high:
            return [Drive(source.number, sink.number, 0.015, 0.7 * high, volts[out], 2.0, 0.87)]
    return []


def _behind_coil(board: Board, switch: str) -> str | None:
    """The rail at the far end of a switch node's coil."""
    for part, _ in board.pins_on.get(switch, ()):
        if part.kind == "coil" and len(part.nets) == 2:
            far = next(net for net in part.nets if net != switch)
            return far if board.net(far).rail else None
    return None
