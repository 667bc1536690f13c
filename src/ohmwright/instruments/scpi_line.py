"""A line of SCPI to an instrument on the network, through PyVISA.

Works with any instrument that takes SCPI over a raw TCP socket, and the practice bench is one. After every
command the error queue is asked (SCPI-99, volume 1, section 21.8: ``SYSTem:ERRor?`` answers ``0,"No error"``).
"""

from __future__ import annotations

from types import TracebackType
from typing import Any

import pyvisa
from pyvisa.errors import Error as VisaError

from ohmwright.errors import InstrumentError

PATIENCE_MS = 20_000
"""How long an answer may take. [ms]"""
OVERLOAD = 9.9e37
"""What SCPI answers for infinity (SCPI-99, volume 1, section 7.2.1.4)."""


class ScpiLine:
    """An open connection to one instrument.

    Parameters
    ----------
    address : str
        A VISA resource, as ``TCPIP0::127.0.0.1::5025::SOCKET``.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        try:
            # The manager is one for the whole process: closing it would close every other line too.
            self._wire: Any = pyvisa.ResourceManager("@py").open_resource(
                address, read_termination="\n", write_termination="\n", timeout=PATIENCE_MS
            )
        except (VisaError, OSError, ValueError) as error:
            raise InstrumentError(
                "No instrument answers.", where=address, why=str(error), hint="check its address, and that it is on"
            ) from error
        self.identity = self.ask("*IDN?")

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
        self._write(command)
        self._check(command)

    def ask(self, query: str) -> str:
        """Send a query and return the answer."""
        self._write(query)
        return self._read(query)

    def number(self, query: str) -> float | None:
        """The number a query is answered with; None for an overload."""
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

    def close(self) -> None:
        """Let the instrument go."""
        self._wire.close()

    def _check(self, command: str) -> None:
        self._write("SYST:ERR?")
        answer = self._read("SYST:ERR?")
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
        try:
            self._wire.write(text)
        except (VisaError, OSError) as error:
            raise self._silent(text, error) from error

    def _read(self, asked: str) -> str:
        try:
            return str(self._wire.read()).strip()
        except (VisaError, OSError, UnicodeDecodeError) as error:
            raise self._silent(asked, error) from error

    def _silent(self, asked: str, error: Exception) -> InstrumentError:
        return InstrumentError(
            "The instrument does not answer.",
            where=f"{self.address}, {asked}",
            why=str(error),
            hint="check the cable and that it is on, then connect again",
        )
