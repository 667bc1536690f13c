"""How a line to an instrument is set; apart from the line, so that a description is read without loading PyVISA."""

from __future__ import annotations

from dataclasses import dataclass

PATIENCE_MS = 20_000
"""How long an answer may take. [ms]"""


@dataclass(frozen=True, slots=True)
class LineSettings:
    """How an instrument is talked to.

    Parameters
    ----------
    patience_ms : int
        How long an answer may take. [ms]
    read_end, write_end : str
        What ends an answer and a command; an empty `read_end` waits for silence.
    baud, data_bits, parity, stop_bits, flow
        On a serial port; `parity` is none, even or odd, `flow` none, xon/xoff or rts/cts. [1/s], [1]
    pause_ms : int
        Between two commands, for instruments that take words which come too soon for one. [ms]
    identify : str
        What it is asked to say who it is.
    errors : str
        What its error queue is asked with; empty where it has none.
    """

    patience_ms: int = PATIENCE_MS
    read_end: str = "\n"
    write_end: str = "\n"
    baud: int = 9600
    data_bits: int = 8
    parity: str = "none"
    stop_bits: int = 1
    flow: str = "none"
    pause_ms: int = 0
    identify: str = "*IDN?"
    errors: str = "SYST:ERR?"
