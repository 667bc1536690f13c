"""Whether the compiled code is there yet.

It is compiled on a machine once and kept; reading it back takes a second. Nobody waits for that: a process that has
begun to load it goes on without until it is there. Compiling takes a minute or two of one core and would hold up
everything else in this process, so a process of its own does it.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any, Protocol, cast

WITHOUT = "OHMWRIGHT_WITHOUT_COMPILED"
"""Environment variable that, when set to anything, leaves the compiled code out."""

NAMES = ("asked", "moved", "numbers", "settle", "shelved", "through", "told")
"""What `Compiled` offers."""


class Compiled(Protocol):
    """What `compiled` offers."""

    def settle(self, *arguments: Any) -> Any:
        """Solve columns until they settle."""

    def through(self, *arguments: Any) -> Any:
        """Voltages for one ampere through other ends."""

    def told(self, *arguments: Any) -> Any:
        """How much of the variance of predictions earlier readings have taken away."""

    def numbers(self, *arguments: Any) -> Any:
        """How likely readings are of which some may be strays."""

    def asked(self, *arguments: Any) -> Any:
        """Readings of circuits with their unknowns shifted, and their slopes."""

    def moved(self, *arguments: Any) -> Any:
        """Move classes until they stand still."""

    def shelved(self, *arguments: Any) -> Any:
        """Readings of circuits at the medians, with all that is kept of them."""


_lock = threading.Lock()
_threads: list[threading.Thread] = []
_found: list[Compiled] = []


def begin() -> threading.Thread:
    """Begin to load the compiled code beside other work; the first time on a machine it is compiled."""
    with _lock:
        if not _threads:
            _threads.append(threading.Thread(target=_load, name="loading compiled code", daemon=True))
            _threads[0].start()
    return _threads[0]


def awaited() -> bool:
    """Wait for it; whether it is there."""
    begin().join()
    return bool(_found)


@contextmanager
def left_out() -> Iterator[None]:
    """Do without it for a while, to compare."""
    found = _found[:]
    _found.clear()
    try:
        yield
    finally:
        _found.extend(found)


def _load() -> None:
    if not os.environ.get(WITHOUT):
        if not compiled_before():
            _compile_beside()
        load_here()


def load_here() -> None:
    """Read it back, or compile it in this process."""
    try:
        compiled: Any = import_module("ohmwright.kernels.compiled")
        compiled.tried()
    except Exception:
        # a machine on which it cannot be compiled is slower, and right all the same
        logging.getLogger(__name__).warning("going on without compiled code", exc_info=True)
        return
    _found.append(cast(Compiled, _Interruptible(compiled)))


def compiled_before() -> bool:
    """Whether what was compiled is newer than everything it was compiled from."""
    here = Path(__file__).parent
    kept = list((here / "__pycache__").glob("*.nbi"))
    made = {path.name.split("-")[0].split(".")[-1] for path in kept}
    if not set(NAMES) <= made:
        return False
    return min(path.stat().st_mtime for path in kept) >= max(path.stat().st_mtime for path in here.glob("*.py"))


def _compile_beside() -> None:
    """Compile in a process of its own, and wait for it; what goes wrong there is told when it is loaded here."""
    found = os.pathsep.join(filter(None, (str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH"))))
    try:
        subprocess.run(
            [sys.executable, "-m", "ohmwright.kernels", "--beside"],
            env={**os.environ, "PYTHONPATH": found},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        )
    except OSError:
        logging.getLogger(__name__).info("no process of its own for compiling", exc_info=True)


class _Interruptible:
    """The compiled code, out of which an exception raised by the handler of a signal comes as itself."""

    def __init__(self, compiled: Any) -> None:
        for name in NAMES:
            setattr(self, name, _interruptible(getattr(compiled, name)))


def _interruptible(work: Callable[..., Any]) -> Callable[..., Any]:
    def done(*arguments: Any) -> Any:
        try:
            return work(*arguments)
        except SystemError as trouble:
            # what a handler raises while an answer is handed over comes as "returned a result with an exception set"
            raised: BaseException = trouble
            while isinstance(raised, SystemError) and raised.__cause__ is not None:
                raised = raised.__cause__
            raise raised from None

    return done


def ready() -> Compiled | None:
    """The compiled code, if it is there."""
    return _found[0] if _found else None
