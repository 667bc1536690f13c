"""Everybody who has the page open."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import Any

from fastapi import WebSocket
from fastapi.concurrency import run_in_threadpool

from ohmwright.web.session import CaseSession

BACKLOG = 64
"""Words kept for a page that is slow to read; after that the oldest go. [1]"""


class Hearers:
    """The open pages; each gets every word in order."""

    def __init__(self, session: CaseSession) -> None:
        self._session = session
        self._news = asyncio.Event()
        self._queues: set[asyncio.Queue[dict[str, Any]]] = set()

    @property
    def anyone(self) -> bool:
        """Whether any page is open."""
        return bool(self._queues)

    def spread(self, word: dict[str, Any]) -> None:
        """Hand a word to every page. Call it on the server's own loop only."""
        for queue in self._queues:
            if queue.full():
                queue.get_nowait()
            queue.put_nowait(word)

    def teller(self, loop: asyncio.AbstractEventLoop) -> Callable[[], None]:
        """What any thread may call when the case has changed."""

        def tell() -> None:
            with suppress(RuntimeError):  # the loop has ended: nobody is left to hear
                loop.call_soon_threadsafe(self._news.set)

        return tell

    def sayer(self, loop: asyncio.AbstractEventLoop) -> Callable[[dict[str, Any]], None]:
        """What any thread may call to hand a word to every page."""

        def say(word: dict[str, Any]) -> None:
            with suppress(RuntimeError):  # the loop has ended: nobody is left to hear
                loop.call_soon_threadsafe(self.spread, word)

        return say

    async def tell_news(self) -> None:
        """Tell every page how the case stands, each time it has changed; what changes meanwhile is told together."""
        while True:
            await self._news.wait()
            self._news.clear()
            if self._queues:
                self.spread(await run_in_threadpool(self._session.state))

    @asynccontextmanager
    async def hearing(self, socket: WebSocket) -> AsyncIterator[None]:
        """One page, for as long as it is open."""
        queue: asyncio.Queue[dict[str, Any]] = asyncio.Queue(BACKLOG)
        self._queues.add(queue)
        sender = asyncio.create_task(_pass_on(queue, socket))
        try:
            yield
        finally:
            self._queues.discard(queue)
            sender.cancel()
            with suppress(asyncio.CancelledError):
                await sender


async def _pass_on(queue: asyncio.Queue[dict[str, Any]], socket: WebSocket) -> None:
    while True:
        word = await queue.get()
        try:
            await socket.send_json(word)
        except RuntimeError:
            return  # it was closed between two words
