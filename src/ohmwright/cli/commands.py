"""The commands. Each only hands words over and shows what comes back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape

from ohmwright.api import Case, resume_case, work
from ohmwright.api import open_case as open_new
from ohmwright.bootstrap import desk_at, usual_cases
from ohmwright.cli.demo import demo
from ohmwright.cli.elsewhere import page_with, practice_with
from ohmwright.cli.fields import heat, millivolts
from ohmwright.cli.instruments import instruments
from ohmwright.cli.part import app as part_app
from ohmwright.cli.show import show_cautions, show_claims, show_next, show_suspects
from ohmwright.cli.supply import app as supply_app
from ohmwright.errors import DataError
from ohmwright.quantities import parse_quantity
from ohmwright.usecases import list_cases

app = typer.Typer(
    help="Finds the failed part on a board that has no schematic.", no_args_is_help=True, add_completion=False
)
app.command()(demo)
app.command()(instruments)
app.command()(heat)
app.command()(millivolts)
app.add_typer(part_app, name="part")
app.add_typer(supply_app, name="supply")
console = Console(highlight=False)

Cases = Annotated[Path | None, typer.Option("--cases", help="File the cases are kept in.")]
CaseName = Annotated[str, typer.Option("--case", help="Which case; by default the newest.")]


def _case(cases: Path | None, name: str) -> Case:
    if not name:
        found = list_cases(desk_at(cases))
        if not found:
            raise DataError("There is no case yet.", hint="begin one: ohmwright start BOARD")
        name = found[0].name
    return resume_case(name, cases)


def _after(case: Case) -> None:
    """Where the case stands after an entry."""
    console.print(escape(f"e{case.view.sequence}: {case.book()[-1]['text']}"))
    show_suspects(console, case.view, most=4)
    show_next(console, case.view)


@app.command()
def start(
    board: Path,
    name: str = "",
    symptom: str = "unknown",
    label_volts: Annotated[str, typer.Option(help="As printed at the jack.")] = "",
    cases: Cases = None,
) -> None:
    """Begin a case on a board file (.kicad_pcb or .json)."""
    case = open_new(board, name=name, cases=cases or usual_cases(), symptom=symptom)
    if label_volts:
        if not case.view.board.entries:
            raise DataError("This board has no known power entry.", hint="name one in the board's description")
        case.entry(case.view.board.entries[0], parse_quantity(label_volts))
    _after(case)


@app.command("next")
def next_(case: CaseName = "", cases: Cases = None) -> None:
    """What to do next, and why."""
    show_next(console, _case(cases, case).view)


@app.command()
def take(quantity: str, red: str, black: str, value: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter a reading: take diode C12.1 GND 0.425 (or OL, 4k7, z near zero, e as expected, s same)."""
    _after(_case(cases, case).read(quantity, red, black, value))


@app.command()
def saw(part: str, finding: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter what was seen at a part: nothing, crack, burn, corrosion, missing, reworked."""
    _after(_case(cases, case).saw(part, finding))


@app.command()
def warm(
    parts: Annotated[str, typer.Argument()] = "",
    watts: Annotated[float | None, typer.Option(help="Power fed in; else from the supply's last figures.")] = None,
    method: str = "finger",
    case: CaseName = "",
    cases: Cases = None,
) -> None:
    """Enter where it got warm: a part, several with commas, or nothing at all for nowhere."""
    _after(_case(cases, case).warm(parts, watts=watts, method=method))


@app.command()
def off(part: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter that a part came off."""
    _after(_case(cases, case).take_off(part))


@app.command()
def refit(part: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter that the same part went back on."""
    _after(_case(cases, case).refit(part))


@app.command("fit-new")
def fit_new(part: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter that a new part was fitted."""
    _after(_case(cases, case).fit_new(part))


@app.command()
def clean(part: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter that a part was cleaned."""
    _after(_case(cases, case).clean(part))


@app.command()
def reflow(part: str, case: CaseName = "", cases: Cases = None) -> None:
    """Enter that the joints of a part were melted again."""
    _after(_case(cases, case).reflow(part))


@app.command()
def entry(
    net: str,
    label_volts: str = "",
    polarity_measured: bool = False,
    battery_off: bool = False,
    case: CaseName = "",
    cases: Cases = None,
) -> None:
    """Enter what is known of a power entry before it is fed."""
    volts = parse_quantity(label_volts) if label_volts else None
    _after(_case(cases, case).entry(net, volts, polarity_measured=polarity_measured, battery_off=battery_off))


@app.command()
def feed(
    plus: Annotated[str, typer.Argument(help="Where the plus clip is; 'off' switches off.")],
    volts: Annotated[str, typer.Argument()] = "",
    limit: Annotated[str, typer.Argument()] = "",
    minus: Annotated[str, typer.Option(help="Where the minus clip is; by default the ground net.")] = "",
    reason: Annotated[str, typer.Option(help="Why a gate may be passed; it goes on record.")] = "",
    case: CaseName = "",
    cases: Cases = None,
) -> None:
    """Ask leave to feed the board and enter it: feed VIN 1 0.5; feed off."""
    found = _case(cases, case)
    if plus == "off":
        _after(found.feed_off())
        return
    if not (volts and limit):
        raise DataError("A feed needs volts and a limit.", hint="as in: ohmwright feed VIN 1.0 0.5")
    ground = minus or found.view.board.ground
    notices = found.feed(plus, ground, parse_quantity(volts), parse_quantity(limit), reason=reason)
    show_cautions(console, [notice["text"] for notice in notices])
    _after(found)


@app.command()
def discharge(case: CaseName = "", cases: Cases = None) -> None:
    """Enter that the board was discharged."""
    _after(_case(cases, case).discharge())


@app.command()
def tried(works: Annotated[bool, typer.Option("--works/--dead")], case: CaseName = "", cases: Cases = None) -> None:
    """Enter whether the board works now."""
    _after(_case(cases, case).tried(works))


@app.command()
def skip(case: CaseName = "", cases: Cases = None) -> None:
    """Pass the first advised test over while the board stands as it does."""
    found = _case(cases, case)
    if not found.view.advice.tests:
        raise DataError("No test is advised, so there is none to pass over.")
    _after(found.skip(found.view.advice.tests[0].title))


@app.command()
def suspects(case: CaseName = "", cases: Cases = None) -> None:
    """Who is still suspect, and what can be claimed."""
    view = _case(cases, case).view
    show_suspects(console, view)
    show_claims(console, view)


@app.command()
def why(suspect: str, case: CaseName = "", cases: Cases = None) -> None:
    """What speaks for and against a suspect."""
    for found in _case(cases, case).why(suspect):
        console.print(escape(f"{found['words']} ({found['probability']:.1%})"))
        for reason in found["reasons"]:
            console.print(escape(f"  {reason['bits']:+6.2f} bit  {reason['event']}: {reason['text']}"))


@app.command()
def book(case: CaseName = "", cases: Cases = None) -> None:
    """Everything entered, in order."""
    for line in _case(cases, case).book():
        gone = " [taken back]" if line["undone"] else ""
        lost = f" [no longer holds: {line['no_longer_holds']}]" if line["no_longer_holds"] else ""
        console.print(escape(f"e{line['sequence']:<4} {line['at'][:19]} {line['text']}{gone}{lost}"))


@app.command()
def undo(number: Annotated[str, typer.Argument()] = "", case: CaseName = "", cases: Cases = None) -> None:
    """Take an entry back, by default the last: undo e7."""
    _after(_case(cases, case).undo(_number(number) if number else None))


@app.command()
def amend(number: str, value: str, case: CaseName = "", cases: Cases = None) -> None:
    """Put the figures of a reading right: amend e7 0.425."""
    _after(_case(cases, case).amend_value(_number(number), value))


@app.command("cases")
def cases_(cases: Cases = None) -> None:
    """All cases, the newest first."""
    for line in list_cases(desk_at(cases)):
        console.print(escape(f"{line.opened_at[:16]}  {line.entries:4} events  {line.name}"))


@app.command("write-up")
def write_up(
    plain: Annotated[bool, typer.Option("--plain", help="Plain text in place of Markdown.")] = False,
    case: CaseName = "",
    cases: Cases = None,
) -> None:
    """The record of the case, to the screen or into a file."""
    print(_case(cases, case).write_up(markdown=not plain), end="")


@app.command("work")
def work_(file: Path) -> None:
    """Answer a case file with JSON: suspects, groups, claims, next tests."""
    print(json.dumps(work(file), ensure_ascii=False, indent=2))


@app.command(context_settings={"allow_extra_args": True, "ignore_unknown_options": True})
def practice(context: typer.Context) -> None:
    """Run the practice bench by itself, for another program to measure at."""
    raise typer.Exit(practice_with(context.args))


@app.command(context_settings={"allow_extra_args": True, "ignore_unknown_options": True}, add_help_option=False)
def page(context: typer.Context) -> None:
    """Work at a practice board in the browser: page --board logger --seed 5, page --resume."""
    raise typer.Exit(page_with(context.args))


def _number(text: str) -> int:
    bare = text.removeprefix("e")
    if not bare.isdigit() or len(bare) > 9:
        raise DataError(f"{text!r} is not the number of an entry.", hint="as shown by `ohmwright book`: e7")
    return int(bare)
