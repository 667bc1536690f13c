"""One user at a time for each instrument, in this program and among programs on this machine."""

from __future__ import annotations

import hashlib
import os
import tempfile
import threading
from pathlib import Path
from typing import IO

from ohmwright.errors import InstrumentError

try:
    import fcntl
except ImportError:  # not on Windows: there only this program's own openings are told apart
    fcntl = None  # type: ignore[assignment]  # the module is there or it is not

_taken: set[str] = set()
_one = threading.Lock()


class OneUser:
    """A claim on an instrument, from its making until `leave`; it also ends when the process does.

    Raises
    ------
    InstrumentError
        If somebody has it already.
    """

    def __init__(self, address: str) -> None:
        self._key, self._file = address.upper(), None
        with _one:
            if self._key in _taken:
                raise self._refusal(address, "this program has it open already")
            self._file = _locked(_lock_path(self._key))
            if self._file is None:
                raise self._refusal(address, "another program on this machine has it open")
            _taken.add(self._key)

    _file: IO[bytes] | None

    def leave(self) -> None:
        """Give it up; a second time does nothing."""
        with _one:
            if self._file is not None:
                _taken.discard(self._key)
                self._file.close()
                self._file = None

    @staticmethod
    def _refusal(address: str, why: str) -> InstrumentError:
        return InstrumentError(
            "The instrument is in use.",
            where=address,
            why=why,
            hint="close it there first: two would mix their answers",
        )


def _locked(path: Path) -> IO[bytes] | None:
    """The lock file, held; None where another process holds it."""
    file = path.open("ab")
    if fcntl is not None:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            file.close()
            return None
    return file


def _lock_path(key: str) -> Path:
    """A file of the user's own for each address."""
    where = Path(os.environ.get("XDG_RUNTIME_DIR") or tempfile.gettempdir()) / f"ohmwright-{os.getuid()}"
    try:
        where.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise InstrumentError(
            "Who uses an instrument cannot be noted.",
            where=str(where),
            why=str(error),
            hint="make it writable",
        ) from error
    return where / f"{hashlib.sha256(key.encode()).hexdigest()[:24]}.lock"
