"""A line of text commands to one instrument on the network, a serial port or USB, through PyVISA.

Works with any instrument that takes SCPI over a raw TCP socket, and the practice bench is one. After every command the
error queue is asked (SCPI-99, volume 1, section 21.8: ``SYSTem:ERRor?`` answers ``0,"No error"``). A line can be had
for one user alone: then a second opening is refused, in this program and in another one. Where a cable was pulled the
line can be taken up again, and then makes sure that the same instrument is at its other end.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType
from typing import Any

import pyvisa
from pyvisa.constants import ControlFlow, Parity, StopBits
from pyvisa.errors import Error as VisaError

from ohmwright.errors import InstrumentError
from ohmwright.instruments.line_settings import PATIENCE_MS, LineSettings
from ohmwright.instruments.one_user import OneUser

AGAIN_EVERY = 0.25
"""Time between two tries to reach an instrument again. [s]"""
OVERLOAD = 9.9e37
"""What SCPI answers for infinity (SCPI-99, volume 1, section 7.2.1.4)."""


class LineLostError(InstrumentError):
    """An instrument that answered before and does not any more: a cable was pulled, or it was switched off."""

    code = "instrument-lost"


class ScpiLine:
    """An open connection to one instrument.

    Parameters
    ----------
    address : str
        A VISA resource, as ``TCPIP0::127.0.0.1::5025::SOCKET`` or ``ASRL/dev/ttyUSB0::INSTR``.
    patience_ms : int
        How long an answer may take. [ms]
    settings : LineSettings or None
        More than the patience; whoever gives them has the instrument for himself alone.
    """

    def __init__(self, address: str, patience_ms: int = PATIENCE_MS, settings: LineSettings | None = None) -> None:
        self.address, self._settings = address, settings or LineSettings(patience_ms)
        self._one = threading.RLock()
        self._is_serial, self._late, self._spoke = address.upper().startswith("ASRL"), False, 0.0
        self._user = OneUser(address) if settings is not None else None
        self._wire: Any = None
        try:
            self._wire = self._opened()
            self.identity = self.ask(self._settings.identify) if self._settings.identify else ""
        except InstrumentError:
            self.close()
            raise

    @classmethod
    def at_socket(cls, host: str, port: int) -> ScpiLine:
        """The instrument at a raw TCP socket."""
        return cls(f"TCPIP0::{host}::{port}::SOCKET")

    def __enter__(self) -> ScpiLine:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def say(self, command: str) -> None:
        """Send a command and see that the instrument took it.

        Raises
        ------
        InstrumentError
            With the instrument's own words, if its error queue is not empty afterwards.
        """
        with self._one:
            self._write(command)
            self._check(command)

    def ask(self, query: str) -> str:
        """Send a query and return the answer."""
        with self._one:
            self._write(query)
            return self._read(query)

    def number(self, query: str) -> float | None:
        """The number a query is answered with; None for an overload."""
        with self._one:
            text = self.ask(query)
            try:
                value = float(text)
            except ValueError as error:
                raise InstrumentError(
                    f"{text[:60]!r} is no number.", where=f"{self.address}, {query}", hint="check its setting"
                ) from error
            self._check(query)
        if value != value or abs(value) >= 9.905e37:  # 9.91E37 stands for not a number (same section)
            raise InstrumentError("The instrument has no reading.", where=f"{self.address}, {query}")
        return None if abs(value) >= OVERLOAD else value

    def take_up_again(self, patience: float, asleep: Callable[[float], None] = time.sleep) -> None:
        """Reach the instrument again after a cable was pulled.

        Parameters
        ----------
        patience : float
            How long to try. [s]

        Raises
        ------
        LineLostError
            If nothing answers in that time.
        InstrumentError
            If something else answers at the old address.
        """
        end = time.monotonic() + patience
        while True:
            with self._one:
                self._drop()
                self._late = False
                try:
                    self._wire = self._opened()
                    found = self.ask(self._settings.identify) if self._settings.identify else ""
                except InstrumentError:
                    if time.monotonic() >= end:
                        raise
                else:
                    return self._same(found)
            asleep(AGAIN_EVERY)

    def close(self) -> None:
        """Let the instrument go."""
        self._drop()
        if self._user is not None:
            self._user.leave()

    def _same(self, found: str) -> None:
        if found != self.identity:
            raise InstrumentError(
                f"Another instrument answers now: {found[:80]!r}.", where=self.address, why=f"it was {self.identity!r}",
                hint="connect the right one, or begin again with this one",
            )  # fmt: skip

    def _opened(self) -> Any:
        """The wire. The manager is one for the whole process: closing it would close every other line too."""
        s = self._settings
        more = _serial(s) if self._is_serial else {}
        try:
            return pyvisa.ResourceManager("@py").open_resource(
                self.address, read_termination=s.read_end or None, write_termination=s.write_end,
                timeout=s.patience_ms, **more,
            )  # fmt: skip
        except (VisaError, OSError, ValueError) as error:
            raise LineLostError(
                "No instrument answers.", where=self.address, why=str(error),
                hint="check its address, and that it is on",
            ) from error  # fmt: skip

    def _drop(self) -> None:
        if self._wire is None:
            return
        try:
            self._wire.close()
        except (VisaError, OSError):
            return  # it is gone already

    def _check(self, command: str) -> None:
        if not self._settings.errors:
            return
        self._write(self._settings.errors)
        answer = self._read(self._settings.errors)
        number, _, words = answer.partition(",")
        if number.strip().lstrip("+") != "0":
            raise InstrumentError(
                f"The instrument refuses {command!r}.",
                where=f"{self.address} ({self.identity})" if hasattr(self, "identity") else self.address,
                why=f"{number.strip()}: {words.strip().strip(chr(34))}",
                hint="check the setting, and that the board is in the state the reading wants",
            )

    def _write(self, text: str) -> None:
        if "\n" in text or "\r" in text:
            raise InstrumentError("A command of more than one line.", where=self.address)
        if self._late:
            self._drain()
        time.sleep(max(0.0, self._spoke + self._settings.pause_ms / 1e3 - time.monotonic()))
        try:
            self._wire.write(text)
        except (VisaError, OSError) as error:
            raise self._silent(text, error) from error
        finally:
            self._spoke = time.monotonic()

    def _read(self, asked: str) -> str:
        try:
            answer = self._one_line() if self._settings.read_end else self._until_silence()
        except (VisaError, OSError, ValueError) as error:
            self._late = True
            raise self._silent(asked, error) from error
        if not answer and self._settings.read_end:
            self._late = True
            raise self._silent(asked, EOFError("an empty answer"))
        return answer

    def _one_line(self) -> str:
        """The answer up to the end of its line, or an error where it has none: in length and in time.

        On a wire of single bytes each is taken by itself, since one that trickles in would begin the wait anew.
        """
        end, until = self._settings.read_end.encode(), time.monotonic() + self._settings.patience_ms / 1e3
        single = self._is_serial or self.address.upper().endswith("SOCKET")
        found = bytearray()
        while not found.endswith(end):
            if len(found) >= LONGEST or time.monotonic() > until:
                raise ValueError(f"an answer without an end: {bytes(found[:40])!r}")
            found += self._wire.read_bytes(1 if single else LONGEST, break_on_termchar=True)
            if not single:
                break
        return found.decode("ascii").strip()

    def _drain(self) -> None:
        """Drop what came after its time: it would be taken for the answer to the next question."""
        self._late, keep = False, self._wire.timeout
        try:
            self._wire.timeout = SILENCE_MS
            for _ in range(LONGEST):
                self._wire.read_bytes(1)
        except (VisaError, OSError):
            return  # nothing more is there
        finally:
            with suppress(VisaError, OSError):
                self._wire.timeout = keep

    def _until_silence(self) -> str:
        """The answer of an instrument that ends its lines with nothing: byte by byte until it pauses."""
        found, keep = bytearray(), self._wire.timeout
        try:
            while len(found) < LONGEST:
                try:
                    found += self._wire.read_bytes(1)
                except VisaError:
                    if not found:
                        raise
                    break
                self._wire.timeout = SILENCE_MS
        finally:
            self._wire.timeout = keep
        return found.decode("ascii").strip()

    def _silent(self, asked: str, error: Exception) -> InstrumentError:
        return LineLostError(
            "The instrument does not answer.",
            where=f"{self.address}, {asked}",
            why=str(error),
            hint="check the cable and that it is on, then connect again",
        )


def _serial(settings: LineSettings) -> dict[str, Any]:
    """How PyVISA is told of a serial port."""
    parities = {"none": Parity.none, "even": Parity.even, "odd": Parity.odd}
    flows = {"none": ControlFlow.none, "xon/xoff": ControlFlow.xon_xoff, "rts/cts": ControlFlow.rts_cts}
    return {
        "baud_rate": settings.baud, "data_bits": settings.data_bits, "parity": parities[settings.parity],
        "stop_bits": StopBits.one if settings.stop_bits == 1 else StopBits.two,
        "flow_control": flows[settings.flow],
    }  # fmt: skip


LONGEST = 4_000
"""Bytes of one answer. [B]"""
SILENCE_MS = 60
"""A pause that ends an answer without an end of its own: some fifty characters at 9,600 baud. [ms]"""
