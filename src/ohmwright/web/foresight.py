"""Thinking ahead: while a value settles under the probes, what it would mean is worked out already.

A value that stands still shows for half a second before it is taken. The thinking process thinks about it in that
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
KEPT = 4
"""Thoughts kept that were made ahead: a display that flickers between two figures may come back to the first. [1]"""


class Foresight:
    """Fits the `think` of an engine.

    Parameters
    ----------
    think : callable
        What thinks otherwise.
    ahead : callable
        What thinks ahead; in a process of its own, so that the hands never wait for it.
    """

    def __init__(self, think: Think, ahead: Think) -> None:
        self._think, self._ahead = think, ahead
        self._news = threading.Condition()
        self._about: tuple[Any, ...] | None = None
        self._kept: list[tuple[tuple[Any, ...], Thought]] = []
        self._busy = False
        self._next: tuple[Any, ...] | None = None
        self.used = 0

    def think(self, *known: Any) -> Thought:
        """The thought about what is known: the one made ahead if there is one or one is being made, else made now."""
        with self._news:
            if self._next == known:
                self._next = None  # it would have to wait for another to be finished
            self._news.wait_for(lambda: self._about != known)
            for about, found in self._kept:
                if about == known:
                    self.used += 1
                    return found
        return self._think(*known)

    def begin(self, *known: Any) -> None:
        """Begin to think about what may soon be known; of several only the newest waits."""
        with self._news:
            if known in (self._about, self._next) or any(about == known for about, _ in self._kept):
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
                    return
                self._about, self._next = self._next, None
                about = self._about
            try:
                found: Thought | None = self._ahead(*about)
            except (OhmwrightError, EOFError):
                found = None  # whoever asks in earnest hears why
            with self._news:
                self._about = None
                if found is not None:
                    self._kept = [(about, found), *self._kept][:KEPT]
                self._news.notify_all()


def desk_with_foresight(desk: Desk, ahead: Think) -> tuple[Desk, Foresight]:
    """The same desk, and what may be told ahead of time."""
    foresight = Foresight(desk.engine.think, ahead)
    return replace(desk, engine=replace(desk.engine, think=foresight.think)), foresight
