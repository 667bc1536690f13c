"""How a case looks in the terminal: one calm column, words beside every figure, nothing by colour alone."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.rule import Rule
from rich.text import Text

from ohmwright.quantities import format_quantity
from ohmwright.usecases.desk import CaseView
from ohmwright.usecases.entry_words import UNITS
from ohmwright.usecases.record_reading import parse_quantity_name
from ohmwright.usecases.run_test import Step, Test
from ohmwright.usecases.write_up import claim_lines

BAR = 24
"""Characters of a full bar. [1]"""


def probability_words(probability: float) -> str:
    """A probability in words. [1]"""
    return next(w for least, w in _WORDS if probability >= least)


_WORDS = ((0.9, "likely"), (0.5, "leading"), (0.1, "possible"), (0.0, "unlikely"))


def show_next(console: Console, view: CaseView, *, others: int = 2) -> None:
    """What to do next and why, with the alternatives small below."""
    if view.advice.stop:
        console.print(Rule("Stop", align="left"))
        console.print(Padding(escape(view.advice.stop), (0, 2)))
        if view.advice.would_decide:
            console.print(Padding(escape(f"It would be decided by: {view.advice.would_decide}"), (0, 2)))
        return
    if not view.advice.tests:
        console.print("  Nothing to do next: the case has no test left to offer.")
        return
    show_test(console, view.advice.tests[0])
    for test in view.advice.tests[1 : 1 + others]:
        line = f"or: {test.title} ({test.minutes:.1f} min, {test.bits:.2f} bit)"
        console.print(Padding(escape(line), (0, 4)), style="dim")
    for refusal in view.advice.refused:
        console.print(Padding(escape(f"not permitted: {refusal}"), (0, 4)), style="dim")


def show_test(console: Console, test: Test) -> None:
    """One test: what, why, what each suspect expects, and what to mind."""
    console.print(Rule("Do next: safety first" if test.gate else "Do next", align="left"))
    console.print(Padding(Text(test.title, style="bold"), (1, 2, 0, 2)))
    console.print(Padding(escape(test.why), (0, 2, 1, 2)))
    unit = _unit(test.steps)
    for hump in test.humps[:6]:
        shown = f"{format_quantity(hump.low, unit)} to {format_quantity(hump.high, unit)}"
        shown = "OL" if hump.overload > 0.5 else shown
        console.print(Padding(escape(f"{shown:<24} if {hump.words}"), (0, 4)))
    for outcome in test.outcomes[:4]:
        console.print(Padding(escape(f"{outcome.words} ({outcome.probability:.0%}): {outcome.then}"), (0, 4)))
    console.print(Padding(f"about {test.minutes:.1f} min, risk {test.risk:.1f} min, {test.bits:.2f} bit", (0, 4)))
    show_cautions(console, [caution.text for caution in test.cautions])


def show_cautions(console: Console, texts: list[str]) -> None:
    """Hazards, with the word and not by colour alone."""
    for text in texts:
        console.print(Padding(Text(f"CAUTION  {text}", style="bold yellow"), (0, 2)))


def show_suspects(console: Console, view: CaseView, most: int = 8) -> None:
    """Who is still suspect, with bars, figures and words. `most` lines. [1]"""
    console.print(Rule("Could be", align="left"))
    for suspect in view.diagnosis.suspects[:most]:
        bar = "#" * round(BAR * suspect.probability)
        words = probability_words(suspect.probability)
        extent = f", {suspect.extent}" if suspect.extent else ""
        console.print(
            Padding(escape(f"{suspect.probability:6.1%} {bar:<{BAR}} {words:<9} {suspect.words}{extent}"), (0, 2))
        )
    for group in view.diagnosis.groups:
        split = f"; would be split by {group.split_by}" if group.split_by else ""
        console.print(Padding(escape(f"told apart by nothing yet: {group.words}{split}"), (0, 2)))
    for clash in view.diagnosis.contradictions:
        console.print(Padding(escape(f"does not fit: {clash.text}"), (0, 2)), style="bold")
    for orphan in view.book.orphans:
        console.print(Padding(escape(f"e{orphan.sequence} no longer holds: {orphan.why}"), (0, 2)))


def show_claims(console: Console, view: CaseView) -> None:
    """What may be claimed, with the signs."""
    console.print(Rule("What is claimed", align="left"))
    for claim in view.diagnosis.claims:
        for line in claim_lines(claim):
            console.print(Padding(escape(line), (0, 2)))
    if not view.diagnosis.claims:
        console.print("  Nothing can be claimed yet.")


def _unit(steps: tuple[Step, ...]) -> str:
    read = [step for step in steps if step.act == "read"]
    return UNITS.get(parse_quantity_name(read[-1].quantity), "V") if read else ""
