"""Meters that answer what no meter should, each a process of its own: an error that says so, no value and no hang."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from ohmwright.errors import InstrumentError
from ohmwright.facts import Quantity
from ohmwright.instruments.described import DescribedMeter
from ohmwright.instruments.family import SHIPPED, read_family
from ohmwright.instruments.scpi_line import LineSettings, ScpiLine

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_MS = 800
TAKE_UP = 1.0
HUNG = 60.0
"""Until a read that never comes back is given up, so that it fails here and does not stand for ever. [s]"""


@pytest.fixture
def meter() -> Iterator[Callable[[str], DescribedMeter]]:
    running: list[tuple[subprocess.Popen[str], DescribedMeter]] = []

    def start(manner: str) -> DescribedMeter:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.instruments.hostile", manner], cwd=ROOT, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip
        port = int(process.stdout.readline())
        line = ScpiLine(f"TCPIP0::127.0.0.1::{port}::SOCKET", settings=LineSettings(PATIENCE_MS))
        running.append((process, DescribedMeter(line, read_family(SHIPPED / "practice_meter.toml"), TAKE_UP)))
        return running[-1][1]

    yield start
    for process, talk in running:
        talk.close()
        process.stdin.close()
        process.wait(10)
        process.stdout.close()


@pytest.mark.parametrize("manner", ["garbage", "words", "not a number", "half", "endless", "trickle", "empty"])
def test_what_is_no_reading_is_an_error_and_no_hang(meter, manner):
    """That it ends is tested, not how soon: an endless answer and one that trickles would both go on for ever."""
    talk, reader = meter(manner), ThreadPoolExecutor(1)
    found = reader.submit(talk.read, Quantity.DIODE)
    with pytest.raises(InstrumentError):
        found.result(HUNG)
    reader.shutdown()


def test_half_a_number_before_the_cable_came_off_is_not_taken(meter):
    """4.2 of 4.25E-1 is a number too. It is dropped with the line, and the reading is taken anew."""
    assert meter("half, then gone").read(Quantity.DIODE) == 0.425


def test_a_cable_pulled_while_a_mode_is_set_is_taken_up_again(meter):
    assert meter("gone while told").read(Quantity.DIODE) == 0.425


def test_a_second_line_is_not_taken_for_the_next_reading(meter):
    """The extra line answers whatever is asked next, here the error queue: that is an error, not a second value."""
    talk = meter("double")
    with pytest.raises(InstrumentError):
        talk.read(Quantity.DIODE)
