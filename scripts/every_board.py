"""Read every KiCad board below some folders, start a case on each, and hide a fault where there is enough to find.

    python scripts/every_board.py FOLDER... [--seeds 1 2 3] [--seconds 120] [--only NAME]

Prints two Markdown tables: what was read, and how the hidden faults were found. The practice bench is
played in this process, its converters at rest. Its true values are its own, but which parts there are,
their kinds and their pins come from the same reading of the file that the program works with: a part
taken for the wrong kind goes unnoticed here, and faults are drawn among the modes the program knows.
Nothing in these figures says how the program does on a board of copper.
"""

from __future__ import annotations

import argparse
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from ohmwright.bootstrap import desk_at
from ohmwright.casebook import Entry
from ohmwright.casebook.events import EntryDescribed
from ohmwright.circuit import Board, Part
from ohmwright.devices import KINDS, FaultMode, Mode
from ohmwright.diagnosis.answer import Diagnosis, Level
from ohmwright.errors import DataError, OhmwrightError, RefusedError
from ohmwright.facts import HANDHELD, HeatFinding, LookFinding, Quantity
from ohmwright.formats.kicad_board import read_kicad_board
from ohmwright.planning.advice import Step, Test
from ohmwright.practice.chance import Dice, dice_for
from ohmwright.practice.fault_json import Defect, Fault
from ohmwright.practice.world import World
from ohmwright.safety import Permit
from ohmwright.usecases.desk import CaseView, view_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.work_through import work_through

MOST_TESTS = 40
LEAST_RAILS, LEAST_PARTS = 2, 20
OHMS = {Mode.SHORT: (0.05, 5.0), Mode.LEAK: (50.0, 20e3), Mode.OPEN: (3e8, 3e8)}
"""Between which resistances a fault is drawn, evenly on a logarithmic scale; estimate. [Ω]"""
READ_HEADS = ("board", "parts", "nets", "rails", "entries", "unknown loads", "read s", "first advice s", "first test")
FAULT_HEADS = ("board", "seed", "hidden", "on a rail", "result", "group", "proven", "tests", "min", "s", "harm", "end")


class OutOfTimeError(Exception):
    """The board took longer than it may."""


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """Raise `OutOfTimeError` inside the block once that much time has passed. [s]"""

    def ring(_signal: int, _frame: FrameType | None) -> None:
        raise OutOfTimeError

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


class Bench:
    """A world in this process, as `usecases.run_test.Bench` wants it."""

    meter = HANDHELD
    heat_method = "finger"

    def __init__(self, world: World) -> None:
        self.world = world

    def read(self, quantity: str, red: str, black: str) -> float | None:
        wanted = Quantity(quantity)
        if wanted in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS):
            return self.world.display()[0 if wanted is Quantity.SUPPLY_VOLTS else 1]
        return self.world.read(wanted, red, black)

    def feed(self, permit: Permit) -> None:
        self.world.switch(False)
        self.world.clip(permit.feed.plus, permit.feed.minus)
        self.world.set_supply(permit.feed.volts, permit.feed.limit)
        self.world.switch(True)

    def feed_off(self) -> None:
        self.world.switch(False)

    def discharge(self) -> None:
        self.world.discharge()

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        seen = self.world.look(parts)
        telling = next((f for f in LookFinding if f is not LookFinding.NOTHING and f in seen.values()), None)
        if telling is None:
            return parts, LookFinding.NOTHING
        return tuple(part for part in parts if seen.get(part) is telling), telling

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        finding, warm = self.world.feel("finger")
        felt = tuple(name for name in warm if not parts or name in parts)
        return felt, finding if felt else HeatFinding.NOTHING

    def take_off(self, part: str) -> None:
        self.world.take_off(part)

    def refit(self, part: str) -> None:
        self.world.refit(part)

    def replace(self, part: str) -> None:
        self.world.replace(part)

    def clean(self, part: str) -> None:
        self.world.clean(part)

    def reflow(self, part: str) -> None:
        self.world.reflow(part)

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        return self.world.board.net(net).nominal, True, True

    def tried(self) -> bool:
        return self.world.try_board()


@dataclass
class Watch:
    """Counts what a case costs and keeps what was last thought."""

    tests: int = 0
    minutes: float = 0.0
    refusals: int = 0
    last: CaseView | None = None

    def before_test(self, view: CaseView, test: Test) -> bool:
        self.last = view
        self.tests += 1
        self.minutes += test.minutes
        return True

    def figures(self, step: Step) -> str:
        return ""

    def after_step(self, step: Step, entries: tuple[Entry, ...]) -> None:
        pass

    def mind(self, cautions: tuple[str, ...]) -> None:
        pass

    def unreadable(self, error: DataError) -> None:
        pass

    def refused(self, error: RefusedError) -> None:
        self.refusals += 1


def faults_of(board: Board, part: Part) -> tuple[FaultMode, ...]:
    """Modes of a part between pins on two known nets, which alone can be told at the bench."""
    return tuple(
        mode
        for mode in KINDS[part.kind].modes(part)
        if mode.mode in OHMS and None not in (ends := _nets_of(part, mode.pins)) and len(set(ends)) == 2
    )


def _nets_of(part: Part, pins: tuple[str, str]) -> tuple[str | None, str | None]:
    return part.pin(pins[0]).net, part.pin(pins[1]).net


def hidden_fault(board: Board, dice: Dice) -> Defect | None:
    """One part, each as likely, and one of its modes by share; None where no part has any."""
    able = [(part, modes) for part in board.parts if (modes := faults_of(board, part))]
    if not able:
        return None
    part, modes = able[int(dice.integers(len(able)))]
    whole = sum(mode.share for mode in modes)
    mode = modes[int(dice.choice(len(modes), p=[mode.share / whole for mode in modes]))]
    low, high = OHMS[mode.mode]
    return Defect(part.name, mode.mode.value, mode.pins, float(low * (high / low) ** dice.random()))


@dataclass
class Row:
    """One line of the second table."""

    board: str
    seed: int
    hidden: str = ""
    on_rail: bool = False
    result: str = ""
    group: str = ""
    proven: str = ""
    watch: Watch = field(default_factory=Watch)
    seconds: float = 0.0
    harm: str = ""
    end: str = ""

    def cells(self) -> tuple[str, ...]:
        """As in `FAULT_HEADS`."""
        minutes = f"{self.watch.minutes:.0f}"
        refused = f" ({self.watch.refusals} refused)" if self.watch.refusals else ""
        tests = f"{self.watch.tests}{refused}"
        return (
            self.board, str(self.seed), self.hidden, "yes" if self.on_rail else "no", self.result, self.group,
            self.proven, tests, minutes, f"{self.seconds:.0f}", self.harm, self.end,
        )  # fmt: skip


def judge(row: Row, diagnosis: Diagnosis, part: str) -> None:
    """Right if the leading group or a proven claim names the part; a proof of another part is a wrong proof."""
    part_of = {suspect.key: suspect.part for suspect in diagnosis.suspects}
    first = diagnosis.groups[0].members if diagnosis.groups else tuple(part_of)[:1]
    # Two faults at once are one suspect, its parts joined by a plus.
    leading = {name for key in first for name in part_of.get(key, "").split("+")}
    proven = {claim.part for claim in diagnosis.claims if claim.level is Level.PROVEN}
    row.group = f"{len(leading)} parts" if len(leading) > 1 else next(iter(leading), "") or "no part"
    row.proven = ", ".join(sorted(name or "no part" for name in proven))
    if proven and part not in proven:
        row.result = "WRONG PROOF"
    elif part in proven:
        row.result = "proven"
    else:
        row.result = "right" if part in leading else "not found"


def hide_and_seek(board: Board, seed: int, seconds: float) -> Row:
    """Hide a fault, follow the advice, and say what came of it."""
    row = Row(board.name, seed)
    defect = hidden_fault(board, dice_for(seed, "hidden", board.name))
    if defect is None:
        row.result = "nothing can fail here"
        return row
    part = board.part(defect.part)
    row.hidden = f"{defect.part} ({part.kind}) {defect.mode} {defect.size:.2g} Ω"
    row.on_rail = any(net is not None and board.net(net).rail for net in _nets_of(part, defect.pins))
    world = World(board, Fault("drawn", "", (defect,)), seed, running=False)
    desk, start = desk_at(memory=True, author="every board"), time.monotonic()
    try:
        with at_most(seconds):
            open_case(desk, "case", board, entries=described(board))
            view = work_through(desk, "case", Bench(world), row.watch, most=MOST_TESTS)
            row.end = view.advice.stop or (f"{MOST_TESTS} tests" if view.advice.tests else "no more tests")
            row.watch.last = view  # only now that it has thought, within its time
    except OutOfTimeError:
        row.end = f"stopped after {seconds:.0f} s"
    row.seconds = time.monotonic() - start
    row.harm = ", ".join(sorted({hurt.net for hurt in world.hurt}))
    if row.watch.last is None:
        row.result = "not judged"
    else:
        judge(row, row.watch.last.diagnosis, defect.part)
    return row


def described(board: Board) -> tuple[Entry, ...]:
    """The likeliest power entry, with its polarity measured and no battery on the board."""
    return tuple(EntryDescribed(net, board.net(net).nominal, True, True) for net in board.entries[:1])


def read_row(path: Path, seconds: float) -> tuple[Board | None, tuple[str, ...]]:
    """Read a board and start a case on it: the board, or None, and the cells of its line."""
    start = time.monotonic()
    try:
        board = read_kicad_board(path)
    except OhmwrightError as error:
        return None, (path.stem, f"refused: {error.what} {error.why}".strip(), *[""] * (len(READ_HEADS) - 2))
    read = time.monotonic() - start
    unknown = sum(part.kind in ("ic", "unknown-two-pads") for part in board.parts)
    entries = ", ".join(f"{net} {volts_text(board, net)}" for net in board.entries) or "none found"
    counts = (str(len(board.parts)), str(len(board.nets)), str(sum(net.rail for net in board.nets)))
    start = time.monotonic()
    try:
        with at_most(seconds):
            desk = desk_at(memory=True, author="every board")
            open_case(desk, "case", board, entries=described(board))
            advice = view_of(desk, "case").advice
        first = advice.tests[0].title if advice.tests else f"none: {advice.stop}"
    except OutOfTimeError:
        first = f"none within {seconds:.0f} s"
    return board, (board.name, *counts, entries, str(unknown), f"{read:.2f}", f"{time.monotonic() - start:.1f}", first)


def volts_text(board: Board, net: str) -> str:
    """Its nominal volts, as far as known."""
    nominal = board.net(net).nominal
    return "(? V)" if nominal is None else f"({nominal:g} V)"


def table_line(cells: tuple[str, ...]) -> str:
    """A line of a Markdown table."""
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def show_head(heads: tuple[str, ...]) -> None:
    """Heading of a Markdown table."""
    print(table_line(heads))
    print(table_line(("---",) * len(heads)), flush=True)


def show_sum(rows: list[Row]) -> None:
    """Counts over all faults, those on rails apart."""
    for words, on_rail in (("on a rail", True), ("elsewhere", False)):
        some = [row for row in rows if row.on_rail is on_rail]
        right = [r for r in some if r.result in ("proven", "right")]
        proofs = sum(r.result == "proven" for r in some)
        wrong = sum(r.result == "WRONG PROOF" for r in some)
        harm = sum(bool(r.harm) for r in some)
        broken = sum(r.result.startswith("BROKE") for r in some)
        print(
            f"\nFaults {words}: {len(some)}; right {len(right)}, of these proven {proofs}; "
            f"wrong proofs {wrong}; boards hurt {harm}; program broke {broken}."
        )


def guarded(board: Board, seed: int, seconds: float) -> Row:
    """As `hide_and_seek`; an error becomes a line of the table, so that one board does not end the run."""
    try:
        return hide_and_seek(board, seed, seconds)
    except Exception as error:  # noqa: BLE001 - the entry point of each case: what broke is shown, not hidden
        words = (str(error).splitlines() or [""])[0]
        return Row(board.name, seed, result=f"BROKE: {type(error).__name__}: {words[:120]}")


def main() -> int:
    options = argparse.ArgumentParser(description="Read every KiCad board, and find a hidden fault on each.")
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("--seeds", nargs="*", type=int, default=[1], help="one hidden fault for each; none: only read")
    options.add_argument("--seconds", type=float, default=120.0, help="longest a case may take")
    options.add_argument("--only", default="", help="boards with this in their name")
    told = options.parse_args()
    paths = sorted(path for folder in told.folders for path in folder.rglob("*.kicad_pcb") if told.only in path.stem)
    boards = []
    show_head(READ_HEADS)
    for path in paths:
        try:
            board, cells = read_row(path, told.seconds)
        except Exception as error:  # noqa: BLE001 - the entry point of each board: what broke is shown, not hidden
            what = f"BROKE: {type(error).__name__}: {error}"[:200]
            board, cells = None, (path.stem, what, *[""] * (len(READ_HEADS) - 2))
        print(table_line(cells), flush=True)
        if board and sum(net.rail for net in board.nets) >= LEAST_RAILS and len(board.parts) >= LEAST_PARTS:
            boards.append(board)
    if not told.seeds:
        return 0
    print()
    show_head(FAULT_HEADS)
    rows = []
    for board in boards:
        for seed in told.seeds:
            rows.append(guarded(board, seed, told.seconds))
            print(table_line(rows[-1].cells()), flush=True)
    show_sum(rows)
    return 1 if any(row.result.startswith("BROKE") for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
