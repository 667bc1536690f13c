"""Heavy work in a process of its own, so that an act never waits for a thought."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from multiprocessing.reduction import ForkingPickler
from typing import Any, TypeVar

from ohmwright.errors import OhmwrightError
from ohmwright.usecases.desk import Desk, Thought

Answer = TypeVar("Answer")
FAREWELL = 3.0
"""How long the process may take to end. [s]"""
WATCH = 1.0
"""How often it looks whether the one that it works for is still there. [s]"""
ATTEMPTS = 20
"""How often what is sent is packed while it changes under the hand. [1]"""


class Aside:
    """One process that does one thing at a time; it ends when this one does, however that comes about.

    Parameters
    ----------
    copied : bool
        Whether it begins as a copy of this process, with all that is loaded here, where the system does that safely.
        Only for a process that has neither threads nor lines yet: a copy would hold on to both.
    """

    def __init__(self, *, copied: bool = False) -> None:
        copied = copied and sys.platform == "linux"
        start: Any = multiprocessing.get_context("fork" if copied else "spawn")
        self._line, far = start.Pipe()
        # A copy has this end of the line as well, and would never see it end.
        given = far, self._line if copied else None, os.getpid()
        self._process = start.Process(target=_work, args=given, daemon=True)
        self._process.start()
        far.close()
        self._one = threading.Lock()

    def do(self, task: Callable[..., Answer], *given: Any) -> Answer:
        """What the task returns, or the error of ours that it raised; EOFError once closed."""
        with self._one:
            try:
                self._line.send_bytes(_packed((task, given)))
                done, answer = self._line.recv()
            except OSError as error:
                raise EOFError from error
        if not done:
            raise OhmwrightError(*answer)
        found: Answer = answer
        return found

    def close(self) -> None:
        """End the process, whatever it is at."""
        self._process.terminate()
        self._process.join(FAREWELL)


def _packed(what: object) -> bytes:
    """As the other process takes it in. Another thread may be keeping a worked-out value in it just now: once more."""
    for _ in range(ATTEMPTS - 1):
        try:
            return bytes(ForkingPickler.dumps(what))
        except RuntimeError:
            continue
    return bytes(ForkingPickler.dumps(what))


def desk_thinking_aside(desk: Desk, aside: Aside) -> Desk:
    """The same desk, its engine thinking in the other process."""
    think = desk.engine.think

    def think_aside(*known: Any) -> Thought:
        return aside.do(think, *known)

    return replace(desk, engine=replace(desk.engine, think=think_aside))


def _work(line: Connection, other_end: Connection | None, master: int) -> None:
    if other_end is not None:
        other_end.close()
    threading.Thread(target=_outlive_nobody, args=(master,), daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then ends this
    answer: tuple[bool, Any]
    while True:
        try:
            task, given = line.recv()
        except EOFError:
            return
        try:
            answer = (True, task(*given))
        except OhmwrightError as error:
            answer = (False, (str(error),))
        try:
            line.send(answer)
        except BrokenPipeError:
            return  # nobody waits for it any more


def _outlive_nobody(master: int) -> None:
    """End this process once the one with that number is no longer its parent, though a task be half done.

    The line says so too, but is only listened to between two tasks, and some take minutes.
    """
    while os.getppid() == master:
        time.sleep(WATCH)
    os._exit(1)
