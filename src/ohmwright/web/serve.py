"""Start the practice bench and the page's server, and open a browser if there is one."""

from __future__ import annotations

import argparse
import re
import secrets
import shutil
import socket
import sys
import threading
import webbrowser
from contextlib import suppress
from pathlib import Path

import uvicorn

from ohmwright.bootstrap import (
    board_from_file,
    book_shelf,
    desk_at,
    picture_eyes,
    picture_shelf,
    practice_bench,
    practice_bench_by_place,
    usual_cases,
)  # fmt: skip
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.usecases import list_cases, open_case, view_of
from ohmwright.usecases.by_hand import ByHand
from ohmwright.usecases.desk import Desk
from ohmwright.usecases.map_board import blank_board
from ohmwright.web.app import create_app
from ohmwright.web.aside import Aside, desk_thinking_aside
from ohmwright.web.check import Check
from ohmwright.web.foresight import desk_with_foresight
from ohmwright.web.mapping import Mapping
from ohmwright.web.part_desk import PartDesk
from ohmwright.web.picture_desk import PictureDesk
from ohmwright.web.round_desk import RoundDesk
from ohmwright.web.session import CaseSession
from ohmwright.web.sight import Sight
from ohmwright.web.supply_desk import SupplyDesk

HOST = "127.0.0.1"
USUAL_PORT = 8137
"""Tried first, so that a page left open finds its server again."""
PREFIX = "practice "
OWN = "own "
"""How the cases of this page begin."""


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
    desk = desk_at(asked.cases or usual_cases())
    aside = Aside()
    plain = desk_thinking_aside(desk, aside)
    # One process for both: what was thought ahead of the last value makes the next thought in earnest short.
    thinking, foresight = desk_with_foresight(plain, plain.engine.think)
    try:
        session = _session(thinking, asked)
    except OhmwrightError:
        aside.close()
        raise
    if session.practice is None:
        session.use_meter(desk.meter)
    rounds = RoundDesk(session, desk, foresight)
    supplies = SupplyDesk(session, asked.cases)
    try:
        left = supplies.take_up()
        threading.Thread(target=rounds.listen, name="round", daemon=True).start()
        listening = _listening(asked.port)
        address = f"http://{HOST}:{listening.getsockname()[1]}/"
        which = "your own board" if not session.seed else f"practice seed {session.seed}"
        _say(f"ohmwright is at {address}  ({which}; stop with Ctrl-C)")
        if left:
            _say(f"A feed was under way when the page ended: {left}")
        if not (asked.no_browser or asked.check):
            threading.Thread(target=_open_browser, args=(address,), daemon=True).start()
        book = PartDesk(session, book_shelf())
        if session.drawn:
            shelf = picture_shelf(asked.cases)
            mapping, pictures = Mapping(session, shelf), PictureDesk(session, thinking, lambda: picture_eyes(shelf))
            app = create_app(session, None, mapping, book, pictures, rounds, supplies)
        else:
            app = create_app(session, Sight(view_of(desk, session.name)), None, book, None, rounds, supplies)
        if asked.meter:
            rounds.join(asked.meter)
        config = uvicorn.Config(
            app, log_level="warning", ws="websockets-sansio", ws_max_size=4096, timeout_graceful_shutdown=2
        )
        server = uvicorn.Server(config)
        check = Check(server, address) if asked.check else None
        with suppress(KeyboardInterrupt):
            server.run(sockets=[listening])
        if check is not None:
            _say(check.verdict())
    finally:
        supplies.close()
        rounds.close()
        aside.close()
        session.close()


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
    return CaseSession(desk, name, practice_bench_by_place(desk, name, board, fault, seed), drawn=True)


def begun(desk: Desk, board: str, fault: str, seed: int) -> CaseSession:
    """A new case on a practice bench whose fault nobody was told."""
    bench = practice_bench(board, fault, seed or secrets.randbelow(999_999) + 1)
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
            bench = practice_bench_by_place(desk, line.name, words[1], words[2], int(words[3]))
            return CaseSession(desk, line.name, bench, resumed=True, drawn=True)
        if len(words) == 4 and words[0] == "practice" and words[3].isdigit():
            return CaseSession(desk, line.name, practice_bench(words[1], words[2], int(words[3])), resumed=True)
    raise DataError("There is no case to take up again.", hint="begin one: ohmwright page")


def _listening(port: int) -> socket.socket:
    """A socket on this machine only: the port asked for, else the usual one, else any that is free."""
    for number in (port,) if port else (USUAL_PORT, 0):
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((HOST, number))
            found.listen(64)
        except OSError:
            found.close()
        else:
            return found
    raise DataError(f"Port {port} is taken.", hint="leave --port away, and a free one is found")


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def _open_browser(address: str) -> None:
    if any(shutil.which(name) for name in ("xdg-open", "open", "firefox", "chromium", "google-chrome")):
        with suppress(webbrowser.Error):
            webbrowser.open(address)
