"""A whole case on a practice board whose fault nobody was told."""

from __future__ import annotations

import secrets
import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape
from rich.prompt import Prompt

from ohmwright.bootstrap import desk_at, practice_bench
from ohmwright.cli.show import show_cautions, show_claims, show_suspects, show_test
from ohmwright.errors import DataError, RefusedError
from ohmwright.usecases import entry_words, open_case, work_through, write_up
from ohmwright.usecases.desk import CaseView
from ohmwright.usecases.run_test import PracticeBench, Step, Test
from ohmwright.usecases.work_through import Entry

PROVEN = "proven"
KEYS = "Enter = the practice meter reads; or type the value; z near zero, e as expected, o OL, s same as before"


class Terminal:
    """Shows the case as it goes, and asks for figures where somebody sits in front of it."""

    def __init__(self, console: Console, *, asking: bool) -> None:
        self.console = console
        self.asking = asking

    def before_test(self, view: CaseView, test: Test) -> bool:
        """Show suspects and the test that is due."""
        self.console.print()
        show_suspects(self.console, view, most=5)
        self.console.print()
        show_test(self.console, test)
        if not self.asking or (test.steps and test.steps[0].act == "read"):
            return True
        return Prompt.ask("  Enter = do it, n = pass it over", default="", show_default=False).strip() != "n"

    def figures(self, step: Step) -> str:
        """The typed answer for a reading; "" leaves it to the practice meter."""
        where = f"{step.quantity}: red on {step.red}, black on {step.black}"
        self.console.print(escape(f"  > {where}"))
        if not self.asking:
            return ""
        return Prompt.ask(f"    {KEYS}\n   ", default="", show_default=False).strip()

    def after_step(self, step: Step, entries: tuple[Entry, ...]) -> None:
        """Show what went on record."""
        for entry in entries:
            self.console.print(escape(f"    on record: {entry_words(entry)}"))

    def mind(self, cautions: tuple[str, ...]) -> None:
        """Show the cautions of a permit."""
        show_cautions(self.console, list(cautions))

    def unreadable(self, error: DataError) -> None:
        """Show why typed figures cannot be."""
        self.console.print(escape(str(error)))

    def refused(self, error: RefusedError) -> None:
        """Show what safety did not permit."""
        self.console.print(escape(str(error)), style="bold")


def demo(
    check: Annotated[bool, typer.Option("--check", help="Run by itself; fail unless the proof is right.")] = False,
    seed: Annotated[int, typer.Option(help="Draws board, fault and meter errors; 0 draws a seed.")] = 0,
    board: Annotated[str, typer.Option(help="A practice board by name, or a file.")] = "",
    fault: Annotated[str, typer.Option(help="A fault by name, or a file.")] = "",
    cases: Annotated[Path | None, typer.Option("--cases", help="Keep the case in this file.")] = None,
) -> None:
    """Run a whole case on a practice board with a hidden fault."""
    seed = seed or secrets.randbelow(999_999) + 1
    console = Console(highlight=False)
    terminal = Terminal(console, asking=not check and sys.stdin.isatty() and sys.stdout.isatty())
    bench = practice_bench(board, fault, seed)
    try:
        raise typer.Exit(0 if _run(console, terminal, bench, cases) or not check else 1)
    finally:
        bench.close()


def _run(console: Console, terminal: Terminal, bench: PracticeBench, cases: Path | None) -> bool:
    """Run the case; True when the proof names a part that is truly faulty and none that is not."""
    desk = desk_at(cases, memory=cases is None)
    name = f"practice {bench.seed} {desk.now()[:19].replace(':', '.')}"  # the time, so that a seed can be run again
    view = open_case(desk, name, bench.board)
    console.print(escape(f"Practice board: {bench.board.name}. Its fault is hidden from the program."))
    view = work_through(desk, view.name, bench, terminal)
    console.print()
    show_claims(console, view)
    console.print()
    console.print(escape(write_up(view, markdown=False)))
    proven = {claim.part for claim in view.diagnosis.claims if claim.level.value == PROVEN}
    truth = set(bench.truth())
    right = bool(proven) and proven <= truth
    console.print(escape(f"Truly faulty: {', '.join(sorted(truth)) or 'nothing'}."))
    console.print(escape(f"Proven: {', '.join(sorted(proven)) or 'nothing'}. {'Right.' if right else 'Not right.'}"))
    console.print(escape(f"The same again: ohmwright demo --seed {bench.seed}"))
    return right
