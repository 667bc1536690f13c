"""Serve a case on this machine until stopped, and open a browser if there is one."""

from __future__ import annotations

import argparse
import shutil
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress

import uvicorn
from fastapi import FastAPI

from ohmwright.bootstrap import book_shelf, picture_eyes, picture_shelf
from ohmwright.errors import DataError
from ohmwright.usecases import view_of
from ohmwright.usecases.desk import Desk
from ohmwright.web.app import create_app
from ohmwright.web.check import Check
from ohmwright.web.foresight import Foresight
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


class Server(uvicorn.Server):
    """Says so as soon as it answers."""

    def __init__(self, config: uvicorn.Config, answers: Callable[[], None]) -> None:
        super().__init__(config)
        self._answers = answers

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to answer."""
        await super().startup(sockets)
        if self.started:
            self._answers()


def serve_case(
    session: CaseSession, desks: tuple[Desk, Desk], foresight: Foresight, asked: argparse.Namespace
) -> None:
    """Serve until stopped. The desks are that of this process and the one that thinks in another."""
    rounds = RoundDesk(session, desks[0], foresight)
    supplies = SupplyDesk(session, asked.cases)
    try:
        left = supplies.take_up()
        threading.Thread(target=rounds.listen, name="round", daemon=True).start()
        listening = _listening(asked.port)
        address = f"http://{HOST}:{listening.getsockname()[1]}/"
        app = _app(session, desks, rounds, supplies, asked)
        if asked.meter:
            rounds.join(asked.meter)

        def answers() -> None:
            which = "your own board" if not session.seed else f"practice seed {session.seed}"
            _say(f"ohmwright is at {address}  ({which}; stop with Ctrl-C)")
            if left:
                _say(f"A feed was under way when the page ended: {left}")
            if not (asked.no_browser or asked.check):
                threading.Thread(target=_open_browser, args=(address,), daemon=True).start()

        config = uvicorn.Config(
            app, log_level="warning", ws="websockets-sansio", ws_max_size=4096, timeout_graceful_shutdown=2
        )
        server = Server(config, answers)
        check = Check(server, address) if asked.check else None
        with suppress(KeyboardInterrupt):
            server.run(sockets=[listening])
        if check is not None:
            _say(check.verdict())
    finally:
        supplies.close()
        rounds.close()


def _app(
    session: CaseSession, desks: tuple[Desk, Desk], rounds: RoundDesk, supplies: SupplyDesk, asked: argparse.Namespace
) -> FastAPI:
    book = PartDesk(session, book_shelf())
    if not session.drawn:
        return create_app(session, Sight(view_of(desks[0], session.name)), None, book, None, rounds, supplies)
    shelf = picture_shelf(asked.cases)
    mapping, pictures = Mapping(session, shelf), PictureDesk(session, desks[1], lambda: picture_eyes(shelf))
    return create_app(session, None, mapping, book, pictures, rounds, supplies)


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
