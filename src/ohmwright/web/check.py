"""The server's check of itself: the page is there, a step can be done over the wire, strangers are refused."""

from __future__ import annotations

import http.client
import json
import threading
import time
from typing import Any
from urllib.parse import urlsplit

import uvicorn

from ohmwright.errors import InstrumentError

PATIENCE = 60.0
"""How long the first test may take to be worked out on a slow machine. [s]"""


class Check:
    """Runs beside the server and ends it."""

    def __init__(self, server: uvicorn.Server, address: str) -> None:
        self._server = server
        self._place = urlsplit(address).netloc
        self._found = "the check did not come to its end"
        threading.Thread(target=self._run, name="check", daemon=True).start()

    def verdict(self) -> str:
        """What was found, or the error."""
        if self._found:
            raise InstrumentError("The page's server fails its own check.", why=self._found, hint="run: make test")
        return "page check: the page is served, a step was done over the wire, a stranger was refused"

    def _run(self) -> None:
        try:
            self._found = self._look()
        except (OSError, http.client.HTTPException, ValueError, KeyError) as error:
            self._found = f"{type(error).__name__}: {error}"
        finally:
            self._server.should_exit = True

    def _look(self) -> str:
        end = time.monotonic() + PATIENCE
        while not self._server.started:
            time.sleep(0.05)
        if b'id="page"' not in self._ask("GET", "/")[1]:
            return "the page is not there"
        if self._ask("GET", "/api/case", host="elsewhere.example")[0] != 403:
            return "a stranger was answered"
        case = self._case()
        while case["due"] is None and time.monotonic() < end:
            time.sleep(0.1)
            case = self._case()
        status, body = self._ask("POST", "/api/do", {"seen": case["sequence"]})
        if status != 200:
            return f"the first step was not done: {body.decode(errors='replace')[:300]}"
        return "" if self._case()["sequence"] > case["sequence"] else "the step did not go on record"

    def _case(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self._ask("GET", "/api/case")[1])
        return found

    def _ask(self, method: str, path: str, body: object = None, host: str = "") -> tuple[int, bytes]:
        line = http.client.HTTPConnection(self._place, timeout=20)
        try:
            data = None if body is None else json.dumps(body)
            line.request(method, path, data, {"Host": host or self._place, "Content-Type": "application/json"})
            answer = line.getresponse()
            return answer.status, answer.read()
        finally:
            line.close()
