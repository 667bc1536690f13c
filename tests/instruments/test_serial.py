"""Instruments on a serial port, by pseudo terminals: how they are asked, how fast, and what comes too late."""

from __future__ import annotations

import os
import threading
import time
import tty

import pytest

from ohmwright.circuit import Feed
from ohmwright.errors import InstrumentError
from ohmwright.instruments.joined import joined_supply, who_is
from ohmwright.instruments.scpi_line import LineSettings, ScpiLine
from ohmwright.safety import Permit


def test_a_serial_supply_on_a_port():
    """A pseudo terminal stands for the port; the supply ends its answers with nothing."""
    near, far = os.openpty()
    tty.setraw(near)
    answers = {
        b"*IDN?": b"INVENTED PSU V1.0",
        b"VSET1?": b"05.00",
        b"ISET1?": b"0.500",
        b"VOUT1?": b"04.98",
        b"IOUT1?": b"0.120",
    }
    told: list[bytes] = []

    def play() -> None:
        heard = b""
        while True:
            try:
                heard += os.read(near, 64)
            except OSError:
                return
            for command in (*answers, b"VSET1:5.00", b"ISET1:0.50", b"OUT1", b"OUT0"):
                if heard.startswith(command):
                    told.append(command)
                    heard = heard[len(command) :]
                    os.write(near, answers.get(command, b""))

    playing = threading.Thread(target=play, daemon=True)
    playing.start()
    supply = joined_supply(f"ASRL{os.ttyname(far)}::INSTR", "serial supply, VSET style")
    shown = supply.measure()
    supply.off()
    supply.close()
    assert (shown.volts, shown.amps, shown.limiting) == (4.98, 0.12, False)
    for _ in range(40):
        if b"OUT0" not in told:
            time.sleep(0.05)
    assert b"OUT0" in told
    os.close(far)  # the last one out on that side: the player's read ends, and only then may its number be another's
    playing.join(3)
    assert not playing.is_alive()
    os.close(near)


class Port:
    """A serial port, by a pseudo terminal: what is heard is answered by the longest command it begins with."""

    def __init__(self, answers: dict[bytes, bytes], least_gap: float = 0.0) -> None:
        self._near, self._far = os.openpty()
        tty.setraw(self._near)
        self.address, self.told = f"ASRL{os.ttyname(self._far)}::INSTR", []
        self._answers, self._gap = answers, least_gap
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def _play(self) -> None:
        heard, at = b"", 0.0
        while True:
            try:
                heard += os.read(self._near, 64)
            except OSError:
                return
            heard = heard.lstrip(b"\r\n")
            now = time.monotonic()
            if now - at < self._gap:
                self.told.append(b"too soon")
            at = now
            for command in sorted(self._answers, key=len, reverse=True):
                if heard.startswith(command):
                    self.told.append(command)
                    heard = heard[len(command) :]
                    if self._answers[command]:
                        os.write(self._near, self._answers[command])

    def close(self) -> None:
        os.close(self._far)
        self._thread.join(3)
        os.close(self._near)


VSET = {
    b"*IDN?": b"INVENTED PSU V1.0", b"VSET1?": b"05.00", b"ISET1?": b"0.500", b"VSET1:5.00": b"", b"ISET1:0.50": b"",
    b"OUT1": b"", b"OUT0": b"",
}  # fmt: skip


def test_a_serial_port_is_asked_in_each_way_that_is_described():
    """This one ends its answers with nothing, which no line with an end would ever hear; line ends it overhears."""
    port = Port(VSET)
    found = who_is(port.address)
    port.close()
    assert (found.family, found.kind) == ("serial supply, VSET style", "supply")


def test_words_do_not_come_too_soon_for_an_instrument_that_wants_a_pause():
    port = Port(VSET, least_gap=0.04)
    supply = joined_supply(port.address)
    supply.on(Permit(Feed("VIN", "GND", 5.0, 0.5)))
    supply.close()
    port.close()
    assert b"too soon" not in port.told
    assert port.told[-4:] == [b"VSET1?", b"ISET1?", b"OUT1", b"OUT0"]


def test_an_answer_that_came_too_late_is_not_taken_for_the_next():
    """The supply is asked for its volts and answers after its time; the amps that are asked for next are amps."""
    near, far = os.openpty()
    tty.setraw(near)

    def play() -> None:
        os.read(near, 64)
        os.write(near, b"someone,supply,0,1\n")
        os.read(near, 64)  # volts: too late
        time.sleep(0.5)
        os.write(near, b"5.000\n")
        os.read(near, 64)
        os.write(near, b"0.120\n")

    playing = threading.Thread(target=play, daemon=True)
    playing.start()
    line = ScpiLine(f"ASRL{os.ttyname(far)}::INSTR", settings=LineSettings(300, errors=""))
    with pytest.raises(InstrumentError, match="does not answer"):
        line.ask("MEAS:VOLT?")
    time.sleep(0.4)
    assert line.ask("MEAS:CURR?") == "0.120"
    line.close()
    playing.join(3)
    os.close(far)
    os.close(near)
