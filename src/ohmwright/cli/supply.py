"""Commands about the supply: plan a feed, hold it with a guard, trace it, judge two currents, find a knee."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape

from ohmwright.bootstrap import desk_at, feed_guard, supply_log
from ohmwright.errors import DataError
from ohmwright.quantities import format_quantity, parse_quantity
from ohmwright.usecases import list_cases
from ohmwright.usecases.desk import Desk, book_of
from ohmwright.usecases.hold_feed import hold_feed
from ohmwright.usecases.path_of_feeds import path_of_feeds
from ohmwright.usecases.plan_feed import path_found, plan_feed, plan_lines
from ohmwright.usecases.sweep_supply import knee_words, pairs_from_words
from ohmwright.usecases.trace_supply import present_feed, record_trace, trace_from_csv, trace_lines

app = typer.Typer(help="Plan, hold, trace and judge a bench supply.", no_args_is_help=True)
console = Console(highlight=False)
NEARLY = 0.9
"""Share of the time asked for that a whole log lasts. [1]"""
Cases = Annotated[Path | None, typer.Option("--cases", help="File the cases are kept in.")]
CaseName = Annotated[str, typer.Option("--case", help="Which case; by default the newest.")]
Address = Annotated[str, typer.Option("--supply", help="Its VISA address, as TCPIP0::192.168.1.5::5025::SOCKET.")]
LONGEST_LOG = 8_000_000
"""Bytes of a log file. [B]"""


def _at(cases: Path | None, name: str) -> tuple[Desk, str]:
    desk = desk_at(cases)
    if not name:
        found = list_cases(desk)
        if not found:
            raise DataError("There is no case yet.", hint="begin one: ohmwright start BOARD")
        name = found[0].name
    return desk, name


def _show(lines: list[str]) -> None:
    for line in lines:
        console.print(escape(line))


@app.command()
def plan(rail: str, volts: str = "", case: CaseName = "", cases: Cases = None) -> None:
    """Work out how to feed a rail: volts, limits, clips, what comes off first, what each suspect would show."""
    desk, name = _at(cases, case)
    _show(plan_lines(plan_feed(desk, name, rail, parse_quantity(volts) if volts else None)))
    seen = path_of_feeds(desk, name, rail)
    if seen is not None:
        _show(["so far:", f"  {seen.words}", *([f"  {seen.finder.method}: {seen.finder.why}"] if seen.finder else [])])


@app.command()
def hold(
    rail: str, supply: Address, step: int = 1, volts: str = "", seconds: float = 20.0, case: CaseName = "",
    cases: Cases = None,
) -> None:
    """Feed a rail by one step of its plan, guarded: the output goes off by rule, by Ctrl-C, or if this dies."""
    desk, name = _at(cases, case)
    planned = plan_feed(desk, name, rail, parse_quantity(volts) if volts else None)
    for caution in planned.cautions:
        console.print(escape(f"⚠ {caution.text}"))
    ended = hold_feed(desk, name, planned, step, feed_guard(supply), seconds, lambda line: console.print(escape(line)))
    console.print(escape(f"off: {ended}"))


@app.command()
def trace(
    log: Annotated[Path | None, typer.Argument(help="A log: seconds,amps[,volts].")] = None, supply: Address = "",
    seconds: float = 20.0, good: Annotated[bool, typer.Option(help="The board works: keep it for comparison.")] = False,
    case: CaseName = "", cases: Cases = None,
) -> None:  # fmt: skip
    """Judge what the supply's current does over time, and put it on record."""
    desk, name = _at(cases, case)
    feed = present_feed(book_of(desk, name).facts.state)
    if log is not None:
        if log.stat().st_size > LONGEST_LOG:
            raise DataError("The log is too long.", where=str(log), hint="at most 200000 lines")
        found = trace_from_csv(log.read_text(errors="replace"), feed)
    elif supply:
        found = supply_log(supply, feed, seconds)
        if found.length < NEARLY * seconds:
            _show([f"The supply fell silent after {found.length:.1f} s of {seconds:g}; what it showed counts."])
    else:
        raise DataError("No trace to judge.", hint="hand over a log file, or name the supply with --supply")
    view, read = record_trace(desk, name, found, good=good)
    _show([f"e{view.sequence}: {read.words}", *trace_lines(read)])


@app.command()
def path(
    pairs: Annotated[list[str], typer.Argument(help="Amps and volts at each current, as 0.5=0.021 1=0.043.")],
    leads: Annotated[str, typer.Option(help="Ohms of leads and clips in the reading; 0 at the pads.")] = "0",
    volts: float = 1.0, limit: float = 5.0,
) -> None:  # fmt: skip
    """Resistance from two currents or more, leads taken out, and what will find the place: heat or millivolts."""
    slope, found = path_found(pairs_from_words(pairs), parse_quantity(leads), volts, limit)
    ohms = partial(format_quantity, unit="Ω")
    _show([
        f"{ohms(slope.best)} ({ohms(slope.ohms.low)} to {ohms(slope.ohms.high)})",
        *(["a junction is in the path"] if slope.junction else []), f"{found.method}: {found.why}",
    ])  # fmt: skip


@app.command()
def knee(pairs: Annotated[list[str], typer.Argument(help="Volts and amps of a sweep, as 1=0.001 2=0.002 ...")]) -> None:
    """Find the volts from which the current rises faster."""
    console.print(escape(knee_words(pairs_from_words(pairs))))
