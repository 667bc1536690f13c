"""Thinking ahead: while a value settles under the probes, what it would mean is worked out already.

A value that stands still shows for half a second before it is taken. A process of its own thinks about it in that
time; if exactly that value is taken, the thought is there. A thought is used for the very facts it was made for and
for no others, so what is shown is the same as without.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from ohmwright.errors import OhmwrightError
from ohmwright.usecases.desk import Desk, Thought

Think = Callable[..., Thought]


class Foresight:
    """Fits the `think` of an engine.

    Parameters
    ----------
    think : callable
        What thinks otherwise.
    ahead : callable
        The same in another process, so that neither waits for the other.
    """

    def __init__(self, think: Think, ahead: Think) -> None:
        self._think, self._ahead = think, ahead
        self._news = threading.Condition()
        self._about: tuple[Any, ...] | None = None
        self._found: Thought | None = None
        self._busy = False
        self._next: tuple[Any, ...] | None = None
        self.used = 0

    def think(self, *known: Any) -> Thought:
        """The thought about what is known."""
        with self._news:
            if self._about == known:
                self._news.wait_for(lambda: not self._busy)
            if self._about == known and self._found is not None:
                self.used += 1
                return self._found
        return self._think(*known)

    def begin(self, *known: Any) -> None:
        """Begin to think about what may soon be known; of several only the newest waits."""
        with self._news:
            if known in (self._about, self._next):
                return
            self._next = known
            if not self._busy:
                self._busy = True
                threading.Thread(target=self._work, name="foresight", daemon=True).start()

    def _work(self) -> None:
        while True:
            with self._news:
                if self._next is None:
                    self._busy = False
                    self._news.notify_all()
                    return
                self._about, self._found, self._next = self._next, None, None
                about = self._about
            try:
                found: Thought | None = self._ahead(*about)
            except (OhmwrightError, EOFError):
                found = None  # whoever asks in earnest hears why
            with self._news:
                self._found = found


def desk_with_foresight(desk: Desk, ahead: Think) -> tuple[Desk, Foresight]:
    """The same desk, and what may be told ahead of time."""
    foresight = Foresight(desk.engine.think, ahead)
    return replace(desk, engine=replace(desk.engine, think=foresight.think)), foresight
