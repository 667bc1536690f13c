"""Meters that answer what no meter should, each a process of its own: an error that says so, in time; never a value."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ohmwright.errors import InstrumentError
from ohmwright.facts import Quantity
from ohmwright.instruments.described import DescribedMeter
from ohmwright.instruments.family import read_family
from ohmwright.instruments.joined import SHIPPED
from ohmwright.instruments.scpi_line import LineSettings, ScpiLine

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_MS = 800
TAKE_UP = 1.0
LATEST = 8.0
"""Well over every patience together: two answers and what is tried in between. [s]"""


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
def test_what_is_no_reading_is_an_error_in_time(meter, manner):
    talk, began = meter(manner), time.monotonic()
    with pytest.raises(InstrumentError):
        talk.read(Quantity.DIODE)
    assert time.monotonic() - began < LATEST


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
