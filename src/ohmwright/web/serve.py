"""Start the practice bench and open a case in the page, which `ohmwright.web.serving` then serves."""

from __future__ import annotations

import argparse
import re
import secrets
import sys
from collections.abc import Callable
from pathlib import Path

from ohmwright.bootstrap import board_from_file, desk_at, practice_bench, practice_bench_by_place, usual_cases
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.usecases import list_cases, open_case, view_of
from ohmwright.usecases.by_hand import ByHand
from ohmwright.usecases.desk import Desk
from ohmwright.usecases.map_board import blank_board
from ohmwright.web.aside import Aside, desk_thinking_aside
from ohmwright.web.foresight import Foresight, desk_with_foresight
from ohmwright.web.loading import kept_for_good
from ohmwright.web.session import CaseSession

PREFIX = "practice "
OWN = "own "
"""How the cases of this page begin."""
Serve = Callable[[CaseSession, tuple[Desk, Desk], Foresight, argparse.Namespace], None]


def main(words: list[str] | None = None) -> None:
    """Serve until stopped; exit code 1 with the reason where it cannot."""
    asked = _asked(words)
    try:
        _serve(asked)
    except OhmwrightError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(1)


def _asked(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="ohmwright page", description="Work at a board in the browser.")
    parser.add_argument("--port", type=int, default=0, help="port on this machine; by default 8137 or any free one")
    parser.add_argument("--board", default="", help="a practice board by name, or a file")
    parser.add_argument("--fault", default="", help="a fault by name, or a file")
    parser.add_argument("--seed", type=int, default=0, help="draws board, fault and meter errors; 0 draws a seed")
    parser.add_argument("--own", metavar="NAME", default="", help="a board of your own, drawn on its picture")
    parser.add_argument("--file", type=Path, default=None, help="a board of your own, from a file")
    parser.add_argument("--meter", default="", help="a meter to join: a VISA address, or sigrok:DRIVER")
    parser.add_argument("--photo", action="store_true", help="draw the practice board on its photo first")
    parser.add_argument("--resume", action="store_true", help="take the last case up again")
    parser.add_argument("--cases", type=Path, default=None, help="file the cases are kept in")
    parser.add_argument("--check", action="store_true", help="start, do one step over the wire, and stop")
    parser.add_argument("--no-browser", action="store_true", help="only print the address")
    return parser.parse_args(words)


def _serve(asked: argparse.Namespace) -> None:
    aside = Aside(copied=True)
    try:
        desk = desk_at(asked.cases or usual_cases())
        plain = desk_thinking_aside(desk, aside)
        # One process for both: what was thought ahead of the last value makes the next thought in earnest short.
        thinking, foresight = desk_with_foresight(plain, plain.engine.think)
        session = _session(thinking, asked)
    except BaseException:
        aside.close()
        raise
    try:
        if session.practice is None:
            session.use_meter(desk.meter)
        _server()(session, (desk, thinking), foresight, asked)
    finally:
        aside.close()
        session.close()


def _server() -> Serve:
    """What serves a case; it takes a second to load, in which a practice bench starts."""
    with kept_for_good():
        from ohmwright.web.serving import serve_case
    return serve_case


def _session(desk: Desk, asked: argparse.Namespace) -> CaseSession:
    if asked.resume:
        return resumed(desk)
    if asked.own:
        return begun_own(desk, asked.own)
    if asked.file:
        return begun_file(desk, asked.file)
    wanted = (asked.board, asked.fault, asked.seed)
    return begun_on_photo(desk, *wanted) if asked.photo else begun(desk, *wanted)


def begun_own(desk: Desk, board: str) -> CaseSession:
    """A new case on a board of which there is nothing yet but its name."""
    plain = re.sub(r"[^\w .#-]+", " ", board).strip()[:40] or "board"
    name = f"{OWN}{plain} {desk.now()[:19].replace(':', '.')}"
    open_case(desk, name, blank_board(plain), note="own")
    return CaseSession(desk, name, ByHand(plain), drawn=True)


def begun_file(desk: Desk, path: Path) -> CaseSession:
    """A new case on a board of the user's own that a file describes."""
    board = board_from_file(path)
    plain = re.sub(r"[^\w .#-]+", " ", board.name).strip()[:40] or "board"
    name = f"{OWN}{plain} {desk.now()[:19].replace(':', '.')}"
    open_case(desk, name, board, note="file")
    return CaseSession(desk, name, ByHand(plain))


def begun_on_photo(desk: Desk, board: str, fault: str, seed: int) -> CaseSession:
    """A new case on a practice board of which there is nothing but the photo."""
    seed = seed or secrets.randbelow(999_999) + 1
    name = f"{PREFIX}{seed} photo {desk.now()[:19].replace(':', '.')}"
    open_case(desk, name, blank_board("practice board"), note=f"photo|{board}|{fault}|{seed}")
    bench = practice_bench_by_place(desk, name, board, fault, seed, meanwhile=_server)
    return CaseSession(desk, name, bench, drawn=True)


def begun(desk: Desk, board: str, fault: str, seed: int) -> CaseSession:
    """A new case on a practice bench whose fault nobody was told."""
    bench = practice_bench(board, fault, seed or secrets.randbelow(999_999) + 1, meanwhile=_server)
    name = f"{PREFIX}{bench.seed} {desk.now()[:19].replace(':', '.')}"
    # What the bench was asked for stands in the case, so that it can be played again after a break.
    open_case(desk, name, bench.board, note=f"practice|{board}|{fault}|{bench.seed}")
    return CaseSession(desk, name, bench)


def resumed(desk: Desk) -> CaseSession:
    """The newest case of this page, where it was left."""
    for line in list_cases(desk):
        if line.name.startswith(OWN):
            drawn = getattr(view_of(desk, line.name).book.events[0].what, "note", "") != "file"
            return CaseSession(desk, line.name, ByHand(line.name), resumed=True, drawn=drawn)
        if not line.name.startswith(PREFIX):
            continue
        note = getattr(view_of(desk, line.name).book.events[0].what, "note", "")
        words = note.split("|")
        if len(words) == 4 and words[0] == "photo" and words[3].isdigit():
            bench = practice_bench_by_place(desk, line.name, words[1], words[2], int(words[3]), meanwhile=_server)
            return CaseSession(desk, line.name, bench, resumed=True, drawn=True)
        if len(words) == 4 and words[0] == "practice" and words[3].isdigit():
            bench = practice_bench(words[1], words[2], int(words[3]), meanwhile=_server)
            return CaseSession(desk, line.name, bench, resumed=True)
    raise DataError("There is no case to take up again.", hint="begin one: ohmwright page")
