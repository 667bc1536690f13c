"""The only place where the parts are put together."""

from __future__ import annotations

import getpass
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from importlib import import_module
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from ohmwright import kernels
from ohmwright.boardmap import Chart, Layer
from ohmwright.casebook.events import PadsJoined
from ohmwright.casebook.map_edits import DRAWN_ON_PICTURE
from ohmwright.circuit import Board, Feed
from ohmwright.diagnosis import diagnose
from ohmwright.errors import DataError, FileFormatError
from ohmwright.facts import Facts
from ohmwright.formats.board_json import read_board_json
from ohmwright.formats.case_json import CaseStart, case_from_json, case_to_json, read_case_json
from ohmwright.formats.kicad_board import read_kicad_board
from ohmwright.formats.known_board import KnownBoard
from ohmwright.geometry import PicturePoint, px_per_mm, scan_view
from ohmwright.geometry.packages import Pad, pad_centres
from ohmwright.instruments.by_place import ByPlace
from ohmwright.instruments.family import known_families, own_folder
from ohmwright.instruments.own_meter import choose_meter, described_meters, keep_meter, own_meter, own_model
from ohmwright.library import (
    Found,
    LibraryIndex,
    Notes,
    OwnBook,
    Papers,
    Pinned,
    build_index,
    default_index,
    installed_libraries,
)  # fmt: skip
from ohmwright.library.book import default_book
from ohmwright.pictures.jpegs import PHOTO_DPI, SidePicture, board_picture_sides, drawn_reading, practice_photo
from ohmwright.pictures.pyramid import TILE
from ohmwright.pictures.shelf import PictureShelf
from ohmwright.pictures.thermal import Frames, preview_png, thermal_frames
from ohmwright.planning import advise
from ohmwright.safety import Permit, Refusal, permit
from ohmwright.storage import MemoryCases, default_path
from ohmwright.usecases.desk import CaseStore, CaseView, Desk, Engine, Thought, book_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.part_book import Shelf, opened_up
from ohmwright.usecases.picture_ports import Eyes
from ohmwright.usecases.run_test import PracticeBench

if TYPE_CHECKING:
    from ohmwright.datasheets import Sheet
    from ohmwright.instruments.feed_guard import FeedGuard as feed_guard
    from ohmwright.instruments.feed_guard import journal_seen as fed_journal_seen
    from ohmwright.instruments.joined import asked_instrument, found_instruments, joined_meter, who_is
    from ohmwright.instruments.supply_log import supply_log
    from ohmwright.pictures.display.eye import DisplayEye

__all__ = [
    "BookShelf", "CaseStart", "KnownBoard", "SidePicture", "asked_instrument", "board_figure", "board_from_file",
    "board_picture_sides", "book_shelf", "case_as_json", "case_from_file", "choose_meter", "datasheet_page",
    "datasheet_told", "described_meters", "desk_at", "display_eye", "drawn_reading", "fed_journal",
    "fed_journal_seen", "feed_guard", "found_instruments", "index_libraries", "joined_meter", "keep_meter",
    "keep_part", "known_families", "libraries_here", "own_book", "own_folder", "own_meter", "own_model", "pad_places",
    "part_index", "part_shelves", "picture_eyes", "picture_shelf", "practice_bench", "practice_bench_by_place",
    "practice_photo", "start_case", "supply_log", "usual_cases", "who_is",
]  # fmt: skip


LATE = {
    "asked_instrument": ("joined", "asked_instrument"), "fed_journal_seen": ("feed_guard", "journal_seen"),
    "feed_guard": ("feed_guard", "FeedGuard"), "found_instruments": ("joined", "found_instruments"),
    "joined_meter": ("joined", "joined_meter"), "supply_log": ("supply_log", "supply_log"),
    "who_is": ("joined", "who_is"),
}  # fmt: skip
"""What talks to instruments, by module and name: loaded when first asked for, as a thought needs none of it."""


def __getattr__(name: str) -> object:
    if name not in LATE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, inside = LATE[name]
    return getattr(import_module(f"ohmwright.instruments.{module}"), inside)


def desk_at(cases: Path | None = None, *, memory: bool = False, author: str = "") -> Desk:
    """A desk with the real engine and the user's own meter, on that file of cases, the usual one, or none at all."""
    store: CaseStore = MemoryCases() if memory else _case_file(cases or default_path())
    return Desk(store, Engine(_think, _permit), _now, author or _author(), own_model())


def _case_file(path: Path) -> CaseStore:
    from ohmwright.storage.casefile import CaseFile  # only who keeps cases pays for loading SQLAlchemy

    return CaseFile(path)


def usual_cases() -> Path:
    """The file in which cases are kept unless told otherwise."""
    return default_path()


def board_from_file(path: Path) -> Board:
    """The board in a KiCad board file or in our own JSON."""
    if path.suffix == ".kicad_pcb":
        return read_kicad_board(path)
    if path.suffix == ".json":
        return read_board_json(path)
    raise FileFormatError(
        f"Files ending in {path.suffix or 'nothing'!r} are not read as boards.",
        where=str(path), hint="hand over a .kicad_pcb file, or a description in .json (docs/case-format.md)",
    )  # fmt: skip


def case_from_file(source: Path | dict[str, object]) -> CaseStart:
    """The case in a JSON file, or written as plain data."""
    return case_from_json(source) if isinstance(source, dict) else read_case_json(source)


def case_as_json(view: CaseView) -> dict[str, object]:
    """The case as plain data that `case_from_file` takes back."""
    # What was drawn stands in the board already; drawn once more it would be drawn twice.
    book = view.book
    told = [
        entry.what for entry in book.counted
        if not isinstance(entry.what, DRAWN_ON_PICTURE) and not (book.chart.pads and isinstance(entry.what, PadsJoined))
    ]  # fmt: skip
    return case_to_json(view.name, view.board, told)


def start_case(desk: Desk, start: CaseStart) -> CaseView:
    """Open the case of a file and enter all it says, together."""
    return open_case(desk, start.name, start.board, entries=start.entries)


def practice_bench(
    board: str, fault: str, seed: int, meanwhile: Callable[[], object] | None = None
) -> PracticeBench:
    """A practice bench in its own process; empty names let the seed draw. `meanwhile` is done while it starts. [1]"""
    from ohmwright.instruments.local_bench import open_bench  # only who measures pays for loading PyVISA

    bench: PracticeBench = open_bench(board=board, fault=fault, seed=seed, meanwhile=meanwhile)
    return bench


def practice_bench_by_place(
    desk: Desk, case: str, board: str, fault: str, seed: int, meanwhile: Callable[[], object] | None = None
) -> PracticeBench:
    """A practice bench for a map that is drawn on the photo `practice_photo` makes; hands go by place. [1]"""
    from ohmwright.pictures.render import ScanRequest, board_outline

    inner = practice_bench(board, fault, seed, meanwhile)
    usual, edge = ScanRequest(), board_outline(inner.board)
    views = {s: scan_view(edge, s, px_per_mm(PHOTO_DPI), usual.margin_mm) for s in ("top", "bottom")}

    def to_board(side: str, x: float, y: float) -> tuple[float, float]:
        point = views[side].board_point(PicturePoint(x, y))
        return point.x_mm, point.y_mm

    def chart() -> tuple[Board, Chart]:
        book = book_of(desk, case)
        return book.board, book.chart

    return ByPlace(inner, chart, to_board)


def display_eye() -> DisplayEye:
    """A reader of a meter's display, for pictures from a camera."""
    from ohmwright.pictures.display.eye import DisplayEye  # only who has a camera pays for loading OpenCV

    return DisplayEye()


def picture_eyes(shelf: PictureShelf) -> Eyes:
    """Who registers the pictures on that shelf, draws parts onto them and tells them apart."""
    from ohmwright.pictures import eyes  # only who looks at pictures pays for loading it

    return eyes.Eyes(shelf)


def fed_journal(cases: Path | None, case: str) -> Path:
    """Where the guard of a case's supply writes what it sees: beside the file of the cases."""
    file = cases or default_path()
    file.parent.mkdir(parents=True, exist_ok=True)
    return file.with_name(f"{file.name}.fed-{hashlib.sha256(case.encode()).hexdigest()[:16]}.jsonl")


def picture_shelf(cases: Path | None = None) -> PictureShelf:
    """Where the pictures of the cases in that file are kept: in a folder beside it."""
    file = cases or default_path()
    return PictureShelf(file.with_name(file.name + ".pictures"))


def thermal_file(source: Path, low: float, high: float, per_count: float, offset: float) -> tuple[Frames, float]:
    """Frames of a thermal file [°C], shape (n, h, w), and frames per second, or 0; scales as stated or nan."""
    return thermal_frames(source, low=low, high=high, per_count=per_count, offset=offset)


def thermal_preview(celsius: Frames) -> bytes:
    """One thermal picture, shape (h, w), in grey, coldest black; PNG."""
    return preview_png(celsius)


def pad_places(board: Board) -> tuple[Pad, ...]:
    """Every pad of the parts whose place is known, in board millimetres."""
    return tuple(pad for part in board.parts if part.place is not None for pad in pad_centres(part))


_thoughts = count()


def _think(board: Board, facts: Facts) -> Thought:
    if next(_thoughts):  # a process that thinks only once has nothing from it
        kernels.begin()
    belief, diagnosis = diagnose(known := _known(board), facts)
    return Thought(diagnosis, advise(known, facts, belief, diagnosis))


def _permit(board: Board, facts: Facts, feed: Feed) -> Permit | Refusal:
    return permit(_known(board), facts, feed)


@lru_cache(maxsize=4)
def _known(board: Board) -> Board:
    """The board as the engine gets it: with what the part book makes of its chips and its unmarked parts."""
    return opened_up(board)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def _author() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # an account without a name, as in some containers
        return "bench"


def part_index(
    roots: Sequence[Path] = (), index: Path | None = None, *, rebuild: bool = False
) -> tuple[LibraryIndex, tuple[str, ...]]:
    """The index over the installed libraries, built where there is none or they changed; and what was not read."""
    installed = installed_libraries(roots)
    path = index or default_index()
    if not installed.symbols:
        raise DataError(
            "No symbol library is installed.", why="nothing was found where KiCad's packages put theirs",
            hint="install kicad-symbols and kicad-footprints (tens of thousands of pinouts), or paste a pin table",
        )  # fmt: skip
    if path.is_file() and not rebuild:
        found = LibraryIndex(path)
        if found.is_fresh(installed):
            return found, ()
        found.close()
    troubles = build_index(path, installed)
    return LibraryIndex(path), troubles


def own_book(path: Path | None = None) -> OwnBook:
    """The user's own part book."""
    return OwnBook(path or default_book())


def part_shelves(book: Path | None = None, index: Path | None = None) -> tuple[Shelf, ...]:
    """What parts are looked up in: the user's own book, and the index where libraries are installed."""
    try:
        return (own_book(book), part_index(index=index)[0])
    except DataError:
        return (own_book(book),)


@dataclass(frozen=True, slots=True)
class BookShelf:
    """The user's own book with its further pages, and the datasheets handed over."""

    own: OwnBook
    notes: Notes
    papers: Papers


def book_shelf(book: Path | None = None) -> BookShelf:
    """The user's own part book, opened for reading and writing; its datasheets lie in a folder beside it."""
    path = book or default_book()
    own = OwnBook(path)
    return BookShelf(own, Notes(path), Papers(path.with_name(path.name + ".papers")))


def libraries_here() -> tuple[int, bool]:
    """How many symbol libraries are installed, and whether the index over them is up to date. [1]"""
    installed = installed_libraries()
    if not installed.symbols or not default_index().is_file():
        return len(installed.symbols), False
    index = LibraryIndex(default_index())
    fresh = index.is_fresh(installed)
    index.close()
    return len(installed.symbols), fresh


def index_libraries() -> None:
    """Bring the index over the installed libraries up to date; some seconds."""
    part_index()[0].close()


def keep_part(
    name: str, source: str, pins: Mapping[str, str], *, book: Path | None = None, footprint: str = ""
) -> None:
    """Put a part that was confirmed into the user's own book."""
    own = own_book(book)
    own.add(
        Found(name, source, footprint=footprint, pins=tuple(Pinned(number, label) for number, label in pins.items()))
    )
    own.close()


def datasheet_told(path: Path) -> Sheet:
    """What a datasheet tells, each thing with its page, to be confirmed."""
    from ohmwright.datasheets import read_sheet  # only who has a datasheet pays for loading it

    return read_sheet(path)


def datasheet_page(path: Path, number: int, width: int = 1400) -> bytes:
    """A page of a datasheet as a PNG picture."""
    from ohmwright.datasheets import page_picture  # as above

    return page_picture(path, number, width=width)


FIGURE_PX = 2048
"""Longer edge of a picture inside a figure, at the most. [px]"""


def board_figure(view: CaseView, shelf: object, side: str, point: str = "") -> str:
    """The figure of a drawn map as SVG: one side, or both beside each other. The shelf is that of `picture_shelf`."""
    if not isinstance(shelf, PictureShelf):
        raise TypeError(f"shelf must be a PictureShelf, not {type(shelf).__name__}")
    from ohmwright.formats.board_figure import Tile, figure_svg  # only who draws pays for loading XML

    def tiles(layer: Layer) -> list[Tile]:
        pyramid = shelf.pyramid(layer.key)
        level = max(n for n in range(pyramid.levels) if n == 0 or max(pyramid.size(n)) <= FIGURE_PX)
        k = 2 ** (pyramid.levels - 1 - level)
        wide, high = pyramid.size(level)
        across, down = pyramid.grid(level)
        return [
            Tile(shelf.tile(layer.key, level, x, y), x * TILE * k, y * TILE * k, min(TILE, wide - x * TILE) * k,
                 min(TILE, high - y * TILE) * k)
            for y in range(down) for x in range(across)
        ]  # fmt: skip

    sides = ("top", "bottom") if side == "both" else (side,)
    return figure_svg(view.board.name, view.board, view.book.chart, view.facts, tiles, sides, point)
