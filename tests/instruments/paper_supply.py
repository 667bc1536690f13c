"""A supply that speaks SCPI over a real socket, with a fault for a load; its cable can come off at a word."""

from __future__ import annotations

import contextlib
import math
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

Load = Callable[[float, "PaperSupply"], tuple[float, float]]
"""Volts and amperes shown, from how long the output has been on. [s]"""


@dataclass(frozen=True, slots=True)
class Pull:
    """The cable comes off at a word, once, and is back after a while or never. [s]

    Parameters
    ----------
    acted : bool
        Whether the supply acted on that word before the cable came off.
    """

    word: str
    acted: bool
    back: float


def shorted(_: float, supply: PaperSupply) -> tuple[float, float]:
    """A tenth of an ohm. [V], [A]"""
    return (0.1 * supply.limit, supply.limit) if supply.on else (0.0, 0.0)


class PaperSupply:
    """Keeps what it was told. After `silent_after` seconds of output it measures no more volts."""

    def __init__(self, load: Load = shorted, silent_after: float = math.inf, pull: Pull | None = None) -> None:
        self.on, self.volts, self.limit, self.cut = False, 0.0, 0.0, False
        self.said: list[str] = []
        self.reached = threading.Event()
        self._load, self._silent_after, self._since, self._pull = load, silent_after, 0.0, pull
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        self.address = f"TCPIP0::127.0.0.1::{self.port}::SOCKET"
        threading.Thread(target=self._serve, daemon=True).start()

    def close(self) -> None:
        """Off the wire."""
        self._pull = None
        self._hang_up()

    def _hang_up(self) -> None:
        # closing alone leaves who waits in accept() waiting
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()

    def _serve(self) -> None:
        while True:
            try:
                line, _ = self._server.accept()
            except OSError:
                if self._pull is None or math.isinf(self._pull.back):
                    return
                time.sleep(self._pull.back)
                self._server = socket.create_server(("127.0.0.1", self.port))
                continue
            threading.Thread(target=self._talk, args=(line,), daemon=True).start()

    def _talk(self, line: socket.socket) -> None:
        with line, line.makefile("rwb") as file:
            try:
                for raw in file:
                    text = raw.decode().strip()
                    if self._pulled(text):
                        return
                    answer = self._answer(text)
                    if answer is not None:
                        file.write(answer.encode() + b"\n")
                        file.flush()
            except OSError:
                return

    def _pulled(self, text: str) -> bool:
        """Whether the cable comes off at this word."""
        if self._pull is None or self.cut or not text.startswith(self._pull.word):
            return False
        if self._pull.acted:
            self._answer(text)
        self.cut = True
        if self._pull.back > 0.0:
            self._hang_up()
        self.reached.set()
        return True

    def _answer(self, text: str) -> str | None:
        self.said.append(text)
        on_for = time.monotonic() - self._since if self.on else 0.0
        word, _, value = text.partition(" ")
        if word == "OUTP":
            self.on, self._since = value == "ON", time.monotonic()
        elif word == "VOLT":
            self.volts = float(value)
        elif word == "CURR":
            self.limit = float(value)
        elif word == "MEAS:VOLT?":
            return None if on_for > self._silent_after else f"{self._load(on_for, self)[0]:.4f}"
        elif word == "MEAS:CURR?":
            return f"{self._load(on_for, self)[1]:.4f}"
        return {"*IDN?": "paper,supply,0,0", "SYST:ERR?": '0,"No error"', "VOLT?": f"{self.volts}",
                "CURR?": f"{self.limit}"}.get(word)  # fmt: skip


@contextmanager
def supplies() -> Iterator[Callable[..., PaperSupply]]:
    """Makes them, and takes all of them off the wire in the end."""
    made: list[PaperSupply] = []

    def make(load: Load = shorted, silent_after: float = math.inf, pull: Pull | None = None) -> PaperSupply:
        made.append(PaperSupply(load, silent_after, pull))
        return made[-1]

    try:
        yield make
    finally:
        for one in made:
            one.close()
