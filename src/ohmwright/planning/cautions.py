"""The caution that belongs to each kind of step. Every one defers to local rules and licensed practice."""

from __future__ import annotations

from collections.abc import Iterable

from ohmwright.circuit import Board
from ohmwright.planning.advice import Caution, Step, TestKind
from ohmwright.safety import NO_TOUCH

LOCAL = "Local rules and licensed practice come first."
TEXTS = {
    "discharge": "Supply off and clips off, then discharge the large capacitors through a resistor "
    f"before ohms or diode mode. {LOCAL}",
    "battery": "Battery off the board, kept away from heat and metal. "
    f"A swollen, hot or damaged cell: stop and move away. {LOCAL}",
    "eyes": f"Glasses on while the board is fed: a shorted part may burst. {LOCAL}",
    "burn": f"Parts may be hot enough to burn. Near them first, touch last. {LOCAL}",
    "hot work": "Hot air and iron burn; flux fumes harm. Extraction on, nothing flammable near, "
    f"cells and plastics shielded. {LOCAL}",
    "solvent": f"Solvent only on a cold, unfed board, ventilated, and dry before any heat or power. {LOCAL}",
    "mains": f"Never probe the mains side of a supply. Hand it to a qualified person. {LOCAL}",
    "over 30 V": "More than 30 V at this entry: one hand away, touch nothing bare. "
    f"Over 60 V DC is not for this bench. {LOCAL}",
    "limit": "Do not raise the current limit to burn a short out: it burns copper and hides the fault.",
}


def caution(code: str) -> Caution:
    """The caution of that code."""
    return Caution(code, TEXTS[code])


def cautions_for(board: Board, kind: TestKind, steps: Iterable[Step]) -> tuple[Caution, ...]:
    """What to mind in a test, in the order of its steps, each once."""
    codes: list[str] = []
    if kind is TestKind.GATE:
        codes += ["battery", "mains"]
    for step in steps:
        if step.act in ("feed off", "discharge"):
            codes.append("discharge")
        elif step.act == "feed" and step.feed is not None:
            codes += ["eyes", "limit"]
            codes += ["over 30 V"] if step.feed.volts > NO_TOUCH else []
            codes += ["battery"] if _has_cell(board) else []
        elif step.act == "heat":
            codes.append("burn")
        elif step.act in ("take off", "refit", "replace", "reflow"):
            codes.append("hot work")
            codes += ["battery"] if _has_cell(board) else []
        elif step.act == "clean":
            codes.append("solvent")
    return tuple(caution(code) for code in dict.fromkeys(codes))


def _has_cell(board: Board) -> bool:
    return any(pin.role == "BAT" for part in board.parts for pin in part.pins)
