"""``ohmwright heat`` and ``ohmwright millivolts``: thermal files and readings along copper at the command line."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape

from ohmwright.bootstrap import desk_at, thermal_file
from ohmwright.errors import DataError
from ohmwright.quantities import format_quantity, parse_quantity
from ohmwright.usecases import list_cases
from ohmwright.usecases.desk import Desk, view_of
from ohmwright.usecases.heat_picture import Pair, heat_rise, heat_seen, take_heat
from ohmwright.usecases.trace_millivolts import Told, take_millivolts, trace_now

console = Console(highlight=False)
Cases = Annotated[Path | None, typer.Option("--cases", help="File the cases are kept in.")]
CaseName = Annotated[str, typer.Option("--case", help="Which case; by default the newest.")]
LARGEST = 200_000
"""Bytes of a table of readings. [B]"""


def _say(text: str) -> None:
    console.print(escape(text), soft_wrap=True)


def _open(cases: Path | None, name: str) -> tuple[Desk, str]:
    desk = desk_at(cases)
    found = name or next((line.name for line in list_cases(desk)), "")
    if not found:
        raise DataError("There is no case yet.", hint="begin one: ohmwright start BOARD")
    return desk, found


def _spot(text: str) -> tuple[float, float]:
    words = text.split(",")
    try:
        x, y = (float(word) for word in words)
    except ValueError:
        raise DataError(f"{text!r} is no place.", hint="two figures with a comma between: 12.5,40") from None
    return x, y


def _line(text: str) -> tuple[tuple[float, float], ...]:
    return tuple(_spot(word) for word in text.split())


def heat(
    on: Annotated[
        Path,
        typer.Argument(help="Thermal file, supply on: table, TIFF, PNG or video; a folder of them is a series."),
    ],
    pair: Annotated[list[str], typer.Option(help="U,V=X,Y: pixel of the picture = millimetres of the board.")],
    off: Annotated[Path | None, typer.Option(help="The same view with the supply off.")] = None,
    off_again: Annotated[Path | None, typer.Option(help="And off again, to tell reflections.")] = None,
    side: str = "top",
    grey: Annotated[str, typer.Option(help="LOW,HIGH in °C for grey pictures and video.")] = "",
    count: Annotated[str, typer.Option(help="SCALE,ZERO in °C for files of counts: 0.01,-273.15")] = "",
    switched: Annotated[float, typer.Option(help="Feed switched on and off so often, in Hz: a series.")] = 0.0,
    rate: Annotated[float, typer.Option(help="Frames per second, where the file does not say.")] = 0.0,
    times: Annotated[
        Path | None, typer.Option(help="Seconds at which the frames were taken, one a line: they need not be even.")
    ] = None,
    watts: Annotated[str, typer.Option(help="Fed; by default volts times amps on record.")] = "",
    take: Annotated[int, typer.Option(help="Put this spot on record.")] = 0,
    case: CaseName = "",
    cases: Cases = None,
) -> None:
    """What the feed warmed, from thermal pictures, and which parts that is."""
    desk, name = _open(cases, case)
    low, high = _spot(grey) if grey else (math.nan, math.nan)
    scale, zero = _spot(count) if count else (math.nan, 0.0)
    during, told_rate = thermal_file(on, low, high, scale, zero)
    before, after = (None if f is None else thermal_file(f, low, high, scale, zero)[0] for f in (off, off_again))
    if before is None and not switched:
        raise DataError("One picture does not tell what the feed warmed.", hint="add --off, or a series and --switched")
    _say(f"Taken as {during.min():.1f} to {during.max():.1f} °C, {during.shape[2]} × {during.shape[1]} pixels.")
    when = () if times is None else _seconds(times)
    rise = heat_rise(
        during if before is None else before, during, after, hertz=switched, rate=rate or told_rate, times=when
    )
    view = view_of(desk, name)
    fed = parse_quantity(watts) if watts else None
    seen = heat_seen(view.board, view.facts, rise, [_pair(text) for text in pair], side, fed)
    for number, spot in enumerate(seen.spots, 1):
        parts = ", ".join(f"{p.name} {p.probability:.0%}" for p in spot.parts[:4])
        where = f"{spot.x_mm:.1f}, {spot.y_mm:.1f} mm ± {2 * spot.sd_mm:.1f}"
        _say(
            f"{number}. {spot.kelvin:.1f} K, about {format_quantity(spot.watts, 'W')} at {where}: {parts or 'no part'}"
        )
        if spot.parts:
            _say(f"   {spot.parts[0].name}: {spot.parts[0].words}")
    for text in (seen.balance, *seen.notes, *seen.cautions):
        _say(text)
    if take:
        take_heat(desk, name, seen, take - 1)
        _say(f"Spot {take} is on record.")


def _text(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            raw = stream.read(LARGEST + 1)
    except OSError as error:
        raise DataError("The table cannot be read.", where=str(file), why=str(error.strerror)) from error
    if len(raw) > LARGEST:
        raise DataError("This table is too long.", where=str(file), hint=f"at most {LARGEST // 1000} kB")
    return raw.decode("utf-8-sig", "replace")


def _seconds(file: Path) -> tuple[float, ...]:
    found = []
    for number, line in enumerate(_text(file).splitlines(), 1):
        if line.strip() and not line.startswith("#"):
            try:
                found.append(float(line.strip().replace(",", ".")))
            except ValueError:
                raise DataError("This is no time.", where=f"{file}, line {number}", hint="seconds: 12.45") from None
    return tuple(found)


def _pair(text: str) -> Pair:
    pixel, _, board = text.partition("=")
    return _spot(pixel), _spot(board)


def millivolts(
    readings: Annotated[Path, typer.Argument(help="Lines of x,y,millivolts[,pad] in millimetres of the board.")],
    net: Annotated[str, typer.Option(help="The rail, or the ground net.")],
    current: Annotated[str, typer.Option(help="Fed into it: 3, 500m; negative where it is taken out.")],
    source: Annotated[str, typer.Option(help="X,Y where the current goes in.")],
    step: Annotated[str, typer.Option(help="Smallest step of the meter: 100u")] = "100u",
    black: Annotated[str, typer.Option(help="X,Y of the black probe on the same copper; left out: elsewhere.")] = "",
    outline: Annotated[str, typer.Option(help='Corners of the copper: "0,0 80,0 80,50 0,50"')] = "",
    hole: Annotated[list[str] | None, typer.Option(help="Corners of a hole.")] = None,
    trace: Annotated[list[str] | None, typer.Option(help='Corners along a trace: "0,0 40,0 40,20"')] = None,
    width: Annotated[list[float] | None, typer.Option(help="Width of each trace in turn, in mm; else 1.")] = None,
    ounces: Annotated[float, typer.Option(min=0.06, max=10.0, help="Copper: 1 is 35 µm, 2 is 70 µm.")] = 1.0,
    contact: Annotated[float, typer.Option(min=0.0, max=20.0, help="How well a probe is placed, in mm.")] = 0.3,
    differenced: Annotated[
        bool, typer.Option("--differenced", help="Values are supply on less supply off: no warm contact in them.")
    ] = False,
    take: Annotated[bool, typer.Option("--take", help="Put the readings on record.")] = False,
    case: CaseName = "",
    cases: Cases = None,
) -> None:
    """Where millivolts along copper lead, how far off that may be, and where to read next."""
    desk, name = _open(cases, case)
    if width and len(width) != len(trace or ()):
        raise DataError(f"{len(width)} widths for {len(trace or ())} traces.", hint="one --width for each --trace")
    told = Told(
        net, tuple(_line(t) for t in trace or ()), tuple(width or ()), _line(outline),
        tuple(_line(h) for h in hole or ()), ounces, _spot(source), _spot(black) if black else None,
        parse_quantity(current), parse_quantity(step), _table(readings), contact, differenced,
    )  # fmt: skip
    found = trace_now(desk, name, told.gradient)
    _say(found.verdict)
    _say(found.words)
    if math.isfinite(found.x_mm):
        long, short, angle = found.ellipse
        _say(f"At {found.x_mm:.1f}, {found.y_mm:.1f} mm, ellipse {long:.1f} by {short:.1f} mm turned {angle:.0f}°.")
    for part in found.parts[:5]:
        _say(f"  {part.name} {part.probability:.0%}")
    for point in found.next_points[:1]:
        _say(f"Next best: {point.at or f'{point.x_mm:.1f}, {point.y_mm:.1f} mm'} ({point.bits:.1f} bit)")
    for text in found.cautions:
        _say(text)
    if take:
        take_millivolts(desk, name, told.gradient)
        _say("On record.")


def _table(file: Path) -> tuple[tuple[float, float, float, str], ...]:
    rows = []
    for number, line in enumerate(_text(file).splitlines(), 1):
        words = [word.strip() for word in line.split(",")]
        if not line.strip() or line.startswith("#"):
            continue
        try:
            x, y, shown = (float(word) for word in words[:3])
        except ValueError:
            raise DataError(
                "This is no reading.",
                where=f"{file}, line {number}",
                hint="x,y,millivolts and the pad: 12.5,40,-1.23,C4.1",
            ) from None
        rows.append((x, y, shown * 1e-3, words[3] if len(words) > 3 else ""))
    return tuple(rows)
