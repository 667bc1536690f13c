"""A hand-held meter through a program of its own that stands in for sigrok-cli, and the real one where it is there."""

from __future__ import annotations

import shutil
import sys
import textwrap
from pathlib import Path

import pytest

from ohmwright.errors import InstrumentError
from ohmwright.facts import Quantity
from ohmwright.instruments.sigrok import SigrokMeter, scanned

STAND_IN = """
import pathlib, select, sys, time
if "--scan" not in sys.argv and select.select([sys.stdin], [], [], 0)[0]:
    sys.exit(0)  # as sigrok-cli 0.7.2: a key, or the end of its input, ends it
here = pathlib.Path(sys.argv[0]).parent
if "--scan" in sys.argv:
    print("The following devices were found:")
    name = here / "name"
    if name.exists():
        print(f"stand-in:conn=/dev/ttyUSB0 - {name.read_text()} with 1 channel: P1")
    sys.exit(0)
lines = here / "lines"
for line in lines.read_text().splitlines():
    if line == "gone":
        sys.exit(1)
    time.sleep(0.1)
    print(line, flush=True)
time.sleep(30)
"""


@pytest.fixture
def program(tmp_path: Path) -> tuple[tuple[str, ...], Path]:
    (tmp_path / "stand_in.py").write_text(textwrap.dedent(STAND_IN))
    (tmp_path / "name").write_text("Invented 61")
    return (sys.executable, str(tmp_path / "stand_in.py")), tmp_path


def test_a_hand_held_meter_in_a_process_of_its_own(program):
    command, here = program
    (here / "lines").write_text("sr: noise\nP1: inf V DC DIODE\nP1: 0.425 V DC DIODE\nP1: 0.425 V DC DIODE HOLD\n")
    talk = SigrokMeter("stand-in", command)
    assert talk.identity == "Invented 61"
    heard = []
    while not heard or not heard[-1].held:
        heard.append(talk.sample(Quantity.DIODE, float(len(heard))))
    assert heard[0].overload
    assert (heard[-2].value, heard[-2].step, heard[-2].held) == (0.425, 0.001, False)
    with pytest.raises(InstrumentError, match="sends nothing"):
        talk.sample(Quantity.DIODE, 4.0)
    talk.close()


def test_it_is_listened_to_again_after_its_cable_was_pulled(program):
    command, here = program
    (here / "lines").write_text("P1: 0.425 V DC DIODE\ngone\n")
    talk = SigrokMeter("stand-in", command)
    assert talk.read(Quantity.DIODE) == 0.425
    (here / "name").unlink()  # the cable is out: the scan finds nothing
    talk._process.wait(5)
    with pytest.raises(InstrumentError, match=r"sends nothing|No meter answers"):
        talk.sample(Quantity.DIODE, 1.0)
    (here / "name").write_text("Invented 61")
    (here / "lines").write_text("P1: 0.512 V DC DIODE\n")
    talk._tried = 0.0
    assert talk.read(Quantity.DIODE) == 0.512
    assert talk.outages == 1
    talk.close()


def test_another_meter_on_the_same_cable_is_refused(program):
    command, here = program
    (here / "lines").write_text("P1: 0.425 V DC DIODE\ngone\n")
    talk = SigrokMeter("stand-in", command)
    talk._process.wait(5)
    (here / "name").write_text("Invented 99")
    talk._tried = 0.0
    with pytest.raises(InstrumentError, match="Another meter"):
        talk.sample(Quantity.DIODE, 1.0)
    talk.close()


def test_it_has_one_user_at_a_time(program):
    command, here = program
    (here / "lines").write_text("")
    talk = SigrokMeter("stand-in", command)
    with pytest.raises(InstrumentError, match="in use"):
        SigrokMeter("stand-in", command)
    talk.close()
    SigrokMeter("stand-in", command).close()


def test_what_is_not_there_is_told(program):
    command, here = program
    (here / "name").unlink()
    with pytest.raises(InstrumentError, match="No meter answers"):
        SigrokMeter("stand-in", command)
    with pytest.raises(InstrumentError, match="not installed"):
        scanned(command=("no-such-program-at-all",))


if shutil.which("sigrok-cli"):  # no test may be passed over, and nobody has to have it

    def test_the_real_program_is_scanned_and_read():
        """Its own demonstration driver: 10 V on its first analog channel, one sign after the other."""
        assert ("demo", "Demo device") in scanned()
        talk = SigrokMeter("demo", ("sigrok-cli", "--channels", "A0", "-c", "samplerate=5"))
        assert abs(talk.read(Quantity.VOLTS)) == 10.0
        assert talk.sample(Quantity.VOLTS, 1.0).step == pytest.approx(1e-4)
        talk.close()
        with pytest.raises(InstrumentError, match="not look for that"):
            scanned("nonsense")
