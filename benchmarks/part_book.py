"""Prints how fast the library index is, how much of datasheets is read, how often a neighbour is named right.

Needs Debian's kicad-symbols, kicad-footprints and kicad-demos.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright
from tests.datasheets.fresh import LAYOUTS, fresh
from tests.datasheets.layouts import HELD_OUT, SECOND_HELD_OUT, TUNED, Style
from tests.datasheets.measure import Found, limits_found, measured, pins_found
from tests.partbook.hidden import Score, hidden, kind_score, role_score
from tests.partbook.known_roles import HELD_OUT as KNOWN_HELD
from tests.partbook.known_roles import TUNED as KNOWN_TUNED
from tests.partbook.test_neighbours import DEMOS, HELD, SEEN_WHILE_BUILDING

from ohmwright.datasheets import read_sheet
from ohmwright.formats.kicad_board import read_kicad_board
from ohmwright.library import LibraryIndex, build_index, installed_libraries

ASKED = ("TLV62569DBV", "TLV625", "8Q24O75", "LM2596S-5", "LAN8710", "CH340T", "ESP32-WROOM", "MAX232", "STM32F103C8")


def library(folder: Path) -> None:
    path = folder / "index.sqlite"
    start, worked = time.perf_counter(), time.process_time()
    troubles = build_index(path, installed_libraries())
    built, worked = time.perf_counter() - start, time.process_time() - worked
    index = LibraryIndex(path)
    took = []
    for name in ASKED:
        start = time.perf_counter()
        index.find(name)
        took.append(time.perf_counter() - start)
    start = time.perf_counter()
    index.find(n_pins=8, pin_names=["SW", "FB"])
    by_pins = time.perf_counter() - start
    symbols, pinouts, lands = index.counts()
    print(f"library: {symbols} parts, {pinouts} pinouts, {lands} land patterns, {len(troubles)} files not read")
    print(f"  built in {built:.1f} s ({worked:.1f} s of processor time), {path.stat().st_size / 1e6:.0f} MB")
    print(f"  found by name in {1e3 * statistics.median(took):.1f} ms, at worst {1e3 * max(took):.1f} ms")
    print(f"  found by pins in {1e3 * by_pins:.1f} ms")
    index.close()


def datasheets(folder: Path) -> None:
    for title, styles in (("tuned on", TUNED), ("held out", HELD_OUT), ("held out, second", SECOND_HELD_OUT)):
        print(f"datasheets, {title}: precision/recall")
        for style in styles:
            print(f"  {style.name:60} {_words(style, folder)}")


def printed_sheets(folder: Path) -> None:
    """Layouts that Chromium sets, each from three parts."""
    print("datasheets, printed by Chromium, eight layouts: precision/recall")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        for layout in LAYOUTS:
            found = {"pins": Found(), "limits": Found()}
            for seed in (1200, 1201, 1202):
                truth = fresh(browser, folder / "fresh.pdf", layout, seed)
                sheet = read_sheet(folder / "fresh.pdf")
                found["pins"] += pins_found(sheet, truth)
                found["limits"] += limits_found(sheet, truth)
            print(f"  {layout:60} " + "  ".join(f"{k} {f.precision:.2f}/{f.recall:.2f}" for k, f in found.items()))
        browser.close()


def _words(style: Style, folder: Path) -> str:
    found = measured(style, folder, range(700, 706))
    return "  ".join(f"{what} {f.precision:.2f}/{f.recall:.2f}" for what, f in found.items() if f.true)


def neighbours() -> None:
    for title, names in (("seen while building", SEEN_WHILE_BUILDING), ("held out", HELD)):
        kinds, roles = Score(0, 0, 0, 0), Score(0, 0, 0, 0)
        for name in names:
            board = read_kicad_board(DEMOS / f"{name}.kicad_pcb")
            case = hidden(board)
            kinds += kind_score(case)[0]
            labels = {**KNOWN_TUNED, **KNOWN_HELD}.get(board.name, {})
            known = {case.real_name[part] for part in case.kinds}
            roles += role_score(case, {ref: right for ref, right in labels.items() if ref in known})[0]
        print(f"neighbours, {title}: kinds {kinds.words()}")
        print(f"  roles {roles.words()}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        library(Path(name))
        datasheets(Path(name))
        printed_sheets(Path(name))
    neighbours()
