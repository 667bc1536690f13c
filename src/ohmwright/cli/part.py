"""``ohmwright part``: the part book at the command line."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.markup import escape

from ohmwright.bootstrap import (
    board_from_file,
    datasheet_page,
    datasheet_told,
    keep_part,
    part_index,
    part_shelves,
)  # fmt: skip
from ohmwright.errors import DataError
from ohmwright.usecases.part_book import (
    around,
    compare_pins,
    find_parts,
    inside,
    pasted_pins,
    pins_by_value,
    read_mark,
    replace_by,
    seen_words,
)  # fmt: skip

app = typer.Typer(
    help="What a part is, what its pins do, what its neighbours must be, what replaces it.", no_args_is_help=True
)
console = Console(highlight=False)
Json = Annotated[bool, typer.Option("--json", help="Plain data in place of sentences.")]
Book = Annotated[Path | None, typer.Option("--book", help="File of your own part book.")]
Index = Annotated[Path | None, typer.Option("--index", help="File of the library index.")]
Libraries = Annotated[
    list[Path] | None, typer.Option("--libraries", help="Folders with symbol and footprint libraries.")
]


def _say(text: str) -> None:
    console.print(escape(text), soft_wrap=True)


def _told(data: Any, as_json: bool) -> bool:
    if as_json:
        print(json.dumps(data, ensure_ascii=False, indent=2))
    return as_json


@app.command()
def index(libraries: Libraries = None, file: Index = None) -> None:
    """Go through the installed libraries anew."""
    found, troubles = part_index(libraries or (), file, rebuild=True)
    symbols, pinouts, lands = found.counts()
    _say(f"{symbols} parts with {pinouts} different pinouts and {lands} land patterns, in {found.path}")
    for trouble in troubles:
        _say(f"not read: {trouble}")


@app.command()
def find(
    name: Annotated[str, typer.Argument(help="A number or a mark, whole or in part, well or badly read.")] = "",
    pins: Annotated[int | None, typer.Option(help="How many pins.")] = None,
    having: Annotated[str, typer.Option("--with", help="Names of pins it must have: EN,FB,SW")] = "",
    most: int = 10,
    book: Book = None,
    file: Index = None,
    as_json: Json = False,
) -> None:
    """Look a part up in your own book and the installed libraries."""
    wanted = [word for word in having.split(",") if word]
    found = find_parts(part_shelves(book, file), name, n_pins=pins, pin_names=wanted, most=most)
    if _told(found, as_json):
        return
    for part in found:
        _say(f"{part['score']:4.0%} {part['name']}  ({part['source']}) {part['description'][:70]}")
        _say("     " + ", ".join(f"{n} {label}" for n, label in list(part["pins"].items())[:24]))
    if not found:
        _say("Nothing fits. Parts can be read from a datasheet (part sheet) or a pasted table (part paste).")


@app.command()
def mark(
    text: str,
    package: str = "",
    pins: int | None = None,
    reading: Annotated[
        list[str] | None, typer.Option(help='Diode mode of the part by itself: "1-3 0.61", "3-1 OL".')
    ] = None,
    book: Book = None,
    file: Index = None,
    as_json: Json = False,
) -> None:
    """Everything a mark may mean: values, dielectric, dates, parts that share it."""
    year = datetime.now(tz=UTC).year
    found = read_mark(
        text, year, package=package, n_pins=pins, readings=reading or (), shelves=part_shelves(book, file)
    )
    if _told(found, as_json):
        return
    for what in ("resistor", "capacitor", "coil"):
        for code in found[what]:
            odd = " (in no E series)" if code["odd"] else ""
            _say(f"as a {what}: {code['words']}{odd}, {code['way']}")
    if found["dielectric"]:
        told = found["dielectric"]
        change = told["change"] or told["slope"]
        _say(f"as a dielectric: {told['low']:g} to {told['high']:g} °C, {change}; {told['caution']}")
    for when in found["made"][:4]:
        part_of_year = f"month {when['month']}" if when["month"] else f"week {when['week']}"
        _say(f"as a date: {when['year']}, {part_of_year}; {when['way']}")
    for part in found["parts"]:
        legs = "-".join(part["pins"])
        _say(f"{part['weight']:4.0%} {part['name']}: {part['words']}, {part['package']}, {legs} ({part['source']})")
    for part in found["numbers"]:
        _say(f"{part['score']:4.0%} alike: {part['name']} ({part['source']})")
    _say("A mark is shared by many parts: unverified until pins and readings agree.")


@app.command()
def sheet(
    file: Path,
    picture: Annotated[int | None, typer.Option(help="Write this page as a PNG picture.")] = None,
    to: Annotated[Path | None, typer.Option(help="Where the picture goes.")] = None,
    keep: Annotated[str, typer.Option(help="Confirmed: put the pins into your book under this name.")] = "",
    package: Annotated[str, typer.Option(help="Which package's pins are kept.")] = "",
    book: Book = None,
    as_json: Json = False,
) -> None:
    """Read a datasheet in PDF: pins, limits, packages, typical circuit, each with its page. Nothing is kept unasked."""
    if picture is not None:
        where = to or Path(f"{file.stem}-page-{picture}.png")
        where.write_bytes(datasheet_page(file, picture))
        _say(f"page {picture} is in {where}")
        return
    told = datasheet_told(file)
    if keep:
        chosen = [found for found in told.pins if package in ("", found.package)]
        if len(chosen) != 1:
            labels = ", ".join(found.package or "(unnamed)" for found in told.pins) or "none"
            raise DataError(
                f"{len(chosen)} pin tables fit.",
                where=str(file),
                hint=f"choose one with --package; there are: {labels}",
            )
        pins = {pin: row.name for row in chosen[0].rows for pin in row.pins}
        keep_part(
            keep, f"datasheet {file.name}, page {chosen[0].at.page}", pins, book=book, footprint=chosen[0].package
        )
        _say(f"{keep} with {len(pins)} pins is in your book, from {file.name}, page {chosen[0].at.page}")
        return
    if _told(asdict(told), as_json):
        return
    for note in told.notes:
        _say(note)
    for found in told.pins:
        _say(f"page {found.at.page}: pins of {found.package or 'the part'} (look at the page before you keep them)")
        for row in found.rows:
            _say(f"  {', '.join(row.pins) or '-':>8} {row.name:12} {row.kind:6} {row.words[:70]}")
        for doubt in found.doubts:
            _say(f"  not understood: {doubt[:100]}")
    for rated in told.ratings:
        span = " / ".join("" if v is None else f"{v:g}" for v in (rated.low, rated.typical, rated.high))
        _say(f"page {rated.at.page}: {rated.sort}: {rated.parameter}: {span} {rated.unit}")
    for figure in told.circuits[:3]:
        _say(
            f"page {figure.at.page}: {figure.words}; pins in it: {', '.join(name for name, _ in figure.pins) or 'none'}"
        )
    _say(f"bodies named: {', '.join(f'{name} (page {page})' for name, page in told.bodies) or 'none'}")


@app.command()
def paste(
    file: Annotated[Path | None, typer.Argument(help="Text with a pin table; without it, standard input.")] = None,
    column: Annotated[int, typer.Option(help="Which package, where several stand side by side.")] = 0,
    keep: Annotated[str, typer.Option(help="Confirmed: put the pins into your book under this name.")] = "",
    source: Annotated[str, typer.Option(help="Where the table is from.")] = "",
    book: Book = None,
    as_json: Json = False,
) -> None:
    """Read a pasted pin table."""
    text = file.read_text(encoding="utf-8", errors="replace") if file else sys.stdin.read()
    found = pasted_pins(text, column)
    if keep:
        pins = {pin: row["name"] for row in found["pins"] for pin in row["pins"]}
        keep_part(keep, source or "pasted pin table", pins, book=book)
        _say(f"{keep} with {len(pins)} pins is in your book")
    elif not _told(found, as_json):
        for row in found["pins"]:
            _say(f"  {', '.join(row['pins']) or '-':>8} {row['name']:12} {row['kind']:6} {row['words'][:70]}")
        for line in found["unread"]:
            _say(f"  not understood: {line[:100]}")


@app.command("around")
def around_(
    board: Path,
    chip: Annotated[str, typer.Argument()] = "",
    named: Annotated[list[str] | None, typer.Option("--named", help="Part number of a chip: U3=LM2596S-5")] = None,
    saw: Annotated[
        list[str] | None, typer.Option(help="Look or continuity of a part: X2=plain-tan, X2=joined, X2=apart")
    ] = None,
    book: Book = None,
    file: Index = None,
    as_json: Json = False,
) -> None:
    """What the unmarked parts around a chip must be, and what contradicts."""
    found_board = board_from_file(board)
    numbers = _pairs(named or (), "--named U3=LM2596S-5")
    names = pins_by_value(found_board, part_shelves(book, file), numbers)
    for wanted in numbers:
        if wanted not in names:
            raise DataError(
                f"No part like {numbers[wanted]} with the pins of {wanted} was found.", hint="ohmwright part find"
            )
    told = around(found_board, chip, names, seen_words(_pairs(saw or (), "--saw X2=plain-tan")))
    if _told(told, as_json):
        return
    for reading in told["chips"]:
        channel = f" channel {reading['channel']}" if reading["channel"] else ""
        _say(f"{reading['chip']}{channel}: {reading['words']} ({reading['probability']:.0%})")
    for part in told["parts"]:
        _say(part["says"])
        if part["role"]:
            _say(f"  {part['shorted']}  {part['opened']}")
        others = [f"{role} {share:.0%}" for role, share in part["others"] if share >= 0.05]
        kinds = [f"{kind} {share:.0%}" for kind, share in part["kinds"][1:4] if share >= 0.02]
        if others or kinds:
            _say(f"  else: {', '.join([*others, *kinds])}")
    for contradiction in told["contradictions"]:
        _say(f"contradiction: {contradiction['text']} Look at: {contradiction['look']}.")


@app.command("inside")
def inside_(
    name: str,
    family: Annotated[str, typer.Option(help="buck, boost, buck-boost, charger, linear, load-switch")],
    book: Book = None,
    file: Index = None,
    as_json: Json = False,
) -> None:
    """What conducts inside a chip, pin to pin, with the test that shows it in place."""
    found = find_parts(part_shelves(book, file), name, most=1)
    if not found:
        raise DataError(
            f"No part like {name!r} is in your book or the libraries.", hint="read its datasheet: part sheet FILE"
        )
    told = inside(family, found[0]["pins"])
    if not _told(told, as_json):
        _say(f"{found[0]['name']} ({found[0]['source']}), taken as a {family}")
        for inner in told:
            drop = f"{inner['drop'][0]:g} to {inner['drop'][1]:g} V" if inner["drop"] else ""
            _say(f"{inner['anode']} to {inner['cathode']}: {inner['words']} {drop}. {inner['test']}")


@app.command()
def replace(
    kind: str,
    role: str = "",
    rail: Annotated[str, typer.Option(help="Most volts across it in use.")] = "",
    value: str = "",
    amps: str = "",
    rated: Annotated[str, typer.Option(help="Volts the old one was rated for.")] = "",
    stock: Annotated[Path | None, typer.Option(help="JSON list of parts at hand: name, where, properties.")] = None,
    old: Annotated[str, typer.Option(help="Number of the old chip, to compare pins.")] = "",
    new: Annotated[str, typer.Option(help="Number of the new chip, to compare pins.")] = "",
    book: Book = None,
    file: Index = None,
    as_json: Json = False,
) -> None:
    """What must match and what may differ, and which parts at hand will do."""
    at_hand = json.loads(stock.read_text(encoding="utf-8")) if stock else []
    told = replace_by(kind, role=role, rail=rail, value=value, amps=amps, rated=rated, stock=at_hand)
    if old and new:
        shelves = part_shelves(book, file)
        pins = [(find_parts(shelves, number, most=1) or [{"pins": {}}])[0]["pins"] for number in (old, new)]
        told["pin_differences"] = compare_pins(*pins)
    if _told(told, as_json):
        return
    for need in told["must"]:
        _say(f"must: {need['property']}: {need['must']}; {need['why']} ({need['source']})")
    for text in told["may"]:
        _say(f"may differ: {text}")
    for text in (*told["cautions"], *told.get("pin_differences", ())):
        _say(f"mind: {text}")
    for one in told["at_hand"]:
        verdict = "fits, as far as known" if one["usable"] else "; ".join(one["fails"])
        unknown = ", ".join(one["unknown"]) or "nothing"
        _say(f"{one['candidate']['name']} ({one['candidate']['where']}): {verdict}; not known: {unknown}")


def _pairs(texts: list[str] | tuple[()], example: str) -> dict[str, str]:
    out: dict[str, str] = {}
    for text in texts:
        key, equals, value = text.partition("=")
        if not (equals and key.strip() and value.strip()):
            raise DataError(f"{text!r} has no sign of equality with words on both sides.", hint=f"as in: {example}")
        out[key.strip()] = value.strip()
    return out
