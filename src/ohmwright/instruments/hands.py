"""Hands at a bench on the network: one JSON object per line each way."""

from __future__ import annotations

import json
import socket

from ohmwright.errors import DataError, InstrumentError

PATIENCE = 30.0
"""How long an answer may take. [s]"""
LONGEST = 8_000_000
"""Bytes of one answer. [B]"""


class Hands:
    """A connection to whoever puts probes, clips and an iron where they are asked to.

    Parameters
    ----------
    host, port : str, int
        A TCP socket that answers each line ``{"do": ...}`` with one line ``{"ok": ...}``.
    """

    def __init__(self, host: str, port: int) -> None:
        self._where = f"{host}:{port}"
        try:
            self._socket = socket.create_connection((host, port), timeout=PATIENCE)
        except OSError as error:
            raise InstrumentError("No hands at this bench.", where=self._where, why=str(error)) from error
        self._lines = self._socket.makefile("rb")

    def do(self, what: str, **details: object) -> dict[str, object]:
        """Ask for one thing and return the answer.

        Raises
        ------
        DataError
            If the hands say that it cannot be done.
        InstrumentError
            If they do not answer, or not in JSON.
        """
        try:
            self._socket.sendall(json.dumps({"do": what, **details}).encode() + b"\n")
            line = self._lines.readline(LONGEST)
        except OSError as error:
            raise self._broken(what, str(error)) from error
        if not line.endswith(b"\n"):
            raise self._broken(what, "the line ended")
        try:
            answer = json.loads(line)
        except ValueError as error:
            raise self._broken(what, str(error)) from error
        if not isinstance(answer, dict):
            raise self._broken(what, "the answer is no object")
        if answer.get("ok") is not True:
            raise DataError(str(answer.get("what", "It cannot be done.")), where=what, hint=str(answer.get("hint", "")))
        return answer

    def close(self) -> None:
        """Let go."""
        self._lines.close()
        self._socket.close()

    def _broken(self, what: str, why: str) -> InstrumentError:
        return InstrumentError(
            "The bench does not answer.", where=f"{self._where}, {what}", why=why, hint="start the bench again"
        )
