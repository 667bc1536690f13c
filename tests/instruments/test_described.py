"""Conversations with described instruments: what is sent and what is answered, line by line, and pulled cables."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from ohmwright.circuit import Feed
from ohmwright.errors import FileFormatError, InstrumentError, RefusedError
from ohmwright.facts import Quantity
from ohmwright.instruments.described import DescribedMeter, DescribedSupply
from ohmwright.instruments.family import SHIPPED, known_families, read_family
from ohmwright.instruments.joined import joined_meter, who_is
from ohmwright.instruments.scpi_line import LineSettings, ScpiLine
from ohmwright.instruments.sigrok import parse_line
from ohmwright.safety import Permit


class Conversation:
    """An instrument that expects these lines in this order and answers them so; a `None` line pulls its cable."""

    def __init__(self, *pairs: tuple[str | None, str | None]) -> None:
        self._pairs, self.wrong, self._server = list(pairs), [], socket.create_server(("127.0.0.1", 0))
        self.address = f"TCPIP0::127.0.0.1::{self._server.getsockname()[1]}::SOCKET"
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        with self._server:
            self._server.settimeout(6)
            while self._pairs:
                try:
                    line, _ = self._server.accept()
                except TimeoutError:
                    return
                with line, line.makefile("rb") as heard:
                    self._talk(line, heard)

    def _talk(self, line: socket.socket, heard) -> None:
        while self._pairs:
            asked = heard.readline().decode().strip()
            if not asked:
                return
            wanted, answer = self._pairs.pop(0)
            if asked != wanted:
                self.wrong.append((asked, wanted))
            if answer is not None:
                line.sendall(answer.encode() + b"\n")
            if self._pairs and self._pairs[0][0] is None:
                self._pairs.pop(0)
                return

    def over(self) -> bool:
        self._thread.join(3)
        return not self._pairs and not self.wrong


WHO = ("*IDN?", "ohmwright,practice meter,0,1")
FINE = ("SYST:ERR?", '0,"No error"')
SETTINGS = LineSettings(1500)


def meter(said: Conversation, take_up: float = 3.0) -> DescribedMeter:
    family = read_family(SHIPPED / "practice_meter.toml")
    return DescribedMeter(ScpiLine(said.address, settings=SETTINGS), family, take_up)


def test_a_reading_word_by_word():
    said = Conversation(WHO, ("CONF:DIOD", None), FINE, ("READ?", "4.25E-1"), FINE, ("READ?", "9.9E37"), FINE)
    talk = meter(said)
    assert talk.read(Quantity.DIODE) == 0.425
    assert talk.read(Quantity.DIODE) is None  # the mode is not set again
    talk.close()
    assert said.over(), said.wrong


def test_a_sample_knows_its_step():
    said = Conversation(WHO, ("CONF:RES", None), FINE, ("READ?", "4.70E3"), FINE)
    talk = meter(said)
    sample = talk.sample(Quantity.OHMS, 2.0)
    assert (sample.at, sample.value, sample.step) == (2.0, 4700.0, 1.0)
    talk.close()
    assert said.over(), said.wrong


def test_a_pulled_cable_loses_no_reading():
    """Pulled between question and answer; the same reading is taken when it is back, the mode set anew."""
    said = Conversation(
        WHO, ("CONF:DIOD", None), FINE, ("READ?", None), (None, None),
        WHO, ("CONF:DIOD", None), FINE, ("READ?", "0.612"), FINE,
    )  # fmt: skip
    talk = meter(said)
    assert talk.read(Quantity.DIODE) == 0.612
    talk.close()
    assert said.over(), said.wrong


def test_another_instrument_after_the_cable_was_pulled_is_refused():
    said = Conversation(
        WHO, ("CONF:DIOD", None), FINE, ("READ?", None), (None, None), ("*IDN?", "somebody,else,0,1"),
    )  # fmt: skip
    talk = meter(said)
    with pytest.raises(InstrumentError, match="Another instrument"):
        talk.read(Quantity.DIODE)
    talk.close()


def test_a_silent_meter_ends_in_time():
    said = Conversation(WHO, ("CONF:DIOD", None), FINE, ("READ?", None), (None, None))
    talk = meter(said, take_up=0.3)
    said._thread.join(1)
    with pytest.raises(InstrumentError):
        talk.read(Quantity.DIODE)
    talk.close()


def test_one_user_at_a_time():
    said = Conversation(WHO, WHO)
    first = ScpiLine(said.address, settings=SETTINGS)
    with pytest.raises(InstrumentError, match="in use"):
        ScpiLine(said.address, settings=SETTINGS)
    words = (
        "from ohmwright.instruments.scpi_line import *; import sys; ScpiLine(sys.argv[1], settings=LineSettings(500))"
    )
    other = subprocess.run(
        [sys.executable, "-c", words, said.address], capture_output=True, text=True, env={**os.environ}, check=False
    )
    assert "in use" in other.stderr
    first.close()
    ScpiLine(said.address, settings=SETTINGS).close()


def test_it_has_to_be_what_it_is_taken_for():
    said = Conversation(("*IDN?", "acme,toaster,1,2"))
    with pytest.raises(InstrumentError, match="This is no practice meter"):
        joined_meter(said.address, "practice meter")
    unknown = Conversation(("*IDN?", "acme,toaster,1,2"))
    with pytest.raises(InstrumentError, match="not known what this is"):
        joined_meter(unknown.address)


def test_a_supply_goes_on_with_a_permit_only():
    said = Conversation(
        ("*IDN?", "ohmwright,practice supply,0,1"), ("OUTP OFF", None), FINE, ("VOLT 5.0000", None), FINE,
        ("CURR 0.5000", None), FINE, ("VOLT?", "5"), FINE, ("CURR?", "0.5"), FINE, ("OUTP ON", None), FINE,
        ("OUTP OFF", None), FINE,
    )  # fmt: skip
    supply = DescribedSupply(ScpiLine(said.address, settings=SETTINGS), read_family(SHIPPED / "practice_supply.toml"))
    with pytest.raises(RefusedError):
        supply.on("please")  # type: ignore[arg-type]  # that is what is tried
    supply.on(Permit(Feed("VIN", "GND", 5.0, 0.5)))
    supply.close()
    assert said.over(), said.wrong


def test_users_add_theirs(tmp_path: Path):
    text = (SHIPPED / "practice_meter.toml").read_text()
    (tmp_path / "mine.toml").write_text(text.replace('"practice meter"', '"my meter"').replace("ohmwright,", "me,"))
    families = known_families(tmp_path)
    assert families[0].name == "my meter"
    assert len(families) == 1 + len(list(SHIPPED.glob("*.toml")))
    said = Conversation(("*IDN?", "me,practice meter,1"))
    assert who_is(said.address, tmp_path).family == "my meter"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "meter"', 'kind = "toaster"', "kind"),
        ("step = 0.1", "step = 0", "step"),
        ('read = "READ?"', 'raed = "READ?"', "raed"),
        ("diode_current = 1e-3", 'diode_current = "much"', "diode_current"),
        ("identity = 'ohmwright,practice meter,'", "identity = '(a+)+$'", "identity"),
        ("identity = 'ohmwright,practice meter,'", "identity = '(a|a)+$'", "identity"),
        ("[line]", "[line", "TOML"),
    ],
)
def test_a_wrong_description_says_where(tmp_path: Path, old: str, new: str, words: str):
    text = (SHIPPED / "practice_meter.toml").read_text()
    assert old in text
    (tmp_path / "bad.toml").write_text(text.replace(old, new, 1))
    with pytest.raises(FileFormatError) as caught:
        read_family(tmp_path / "bad.toml")
    assert words in str(caught.value)
    assert "bad.toml" in caught.value.where


@pytest.mark.parametrize("data", [None, b"a = " + b"9" * 5000, b"a = " + b"[" * 5000, b"\xff\xfe\x00", b"x" * 70_000])
def test_what_is_no_description_is_an_error_with_its_name(tmp_path: Path, data: bytes | None):
    path = tmp_path / "bad.toml"
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(FileFormatError) as caught:
        read_family(path)
    assert "bad.toml" in caught.value.where
    assert caught.value.hint


@pytest.mark.parametrize(
    ("line", "quantity", "value", "step", "held"),
    [
        ("P1: 0.001100 V DC AUTO", Quantity.VOLTS, 0.0011, 1e-6, False),  # as libsigrok's own commit messages show it
        ("P1: 425.0 mV DC DIODE", Quantity.DIODE, 0.425, 1e-4, False),
        ("P1: 4.700 kΩ AUTO HOLD", Quantity.OHMS, 4700.0, 1.0, True),
        ("A0: -10.0000 V DC", Quantity.VOLTS, -10.0, 1e-4, False),  # what its demo driver writes
        ("P1: inf Ω AUTO", Quantity.OHMS, None, 0.0, False),
    ],
)
def test_lines_of_sigrok(line, quantity, value, step, held):
    found = parse_line(line, 0.0)
    assert found is not None
    assert (found[0], found[1].value, found[1].step, found[1].held) == (quantity, value, step, held)
    assert found[1].overload == (value is None)


@pytest.mark.parametrize(
    "line", ["P1: 5.0 V AC RMS", "P1: 0.2 A DC", "P1: nan V DC", "P1: 20.0 °C", "sr: lost sync", "", "x" * 999]
)
def test_other_lines_of_sigrok(line):
    assert parse_line(line, 0.0) is None


ON_A_NETWORK = [family for family in known_families() if family.identity and family.line.read_end]


@pytest.mark.parametrize("family", ON_A_NETWORK, ids=lambda family: family.name)
def test_each_shipped_family_says_what_its_description_says(family):
    """Word by word: every mode of a meter, and a supply set, switched on, measured and switched off."""
    name = {"practice meter": "ohmwright,practice meter,0,1", "practice supply": "ohmwright,practice supply,0,1",
            "SCPI bench meter": "Invented,34999A multimeter,0,1", "SCPI bench supply": "Invented,E3699 supply,0,1"}
    errors = [FINE] if family.line.errors else []
    talk: list[tuple[str | None, str | None]] = [(WHO[0], name[family.name])]
    if family.kind == "meter":
        for mode in family.modes.values():
            for command in mode.select:
                talk += [(command, None), *errors]
            talk += [(mode.read, "5.0E-1"), *errors]
        said = Conversation(*talk)
        meter = joined_as(said, family)
        for quantity, mode in family.modes.items():
            assert meter.read(quantity) == 0.5 * mode.scale
        meter.close()
    else:
        words = family.words
        figures = {"{volts}": f"{5:.{family.decimals}f}", "{amps}": f"{0.5:.{family.decimals}f}"}
        sets = [words["set_volts"].replace("{volts}", figures["{volts}"]),
                words["set_amps"].replace("{amps}", figures["{amps}"])]
        for command in (words["off"], *sets):
            talk += [(command, None), *errors]
        for query, answer in ((words["told_volts"], "5"), (words["told_amps"], "0.5")):
            talk += [(query, answer), *errors]
        talk += [(words["on"], None), *errors]
        for query, answer in ((words["volts"], "4.9"), (words["amps"], "0.12"), (words["told_amps"], "0.5")):
            talk += [(query, answer), *errors]
        talk += [(words["off"], None), *errors]
        said = Conversation(*talk)
        supply = joined_as(said, family)
        supply.on(Permit(Feed("VIN", "GND", 5.0, 0.5)))
        assert supply.measure().amps == 0.12
        supply.close()
    assert said.over(), said.wrong


def joined_as(said: Conversation, family):
    line = ScpiLine(said.address, settings=family.line)
    assert family.is_named(line.identity)
    return DescribedMeter(line, family, 1.0) if family.kind == "meter" else DescribedSupply(line, family)


@pytest.mark.parametrize(
    "line", ['parity = "some"', "data_bits = 9", "stop_bits = true", "pause_ms = -1", 'flow = "maybe"', "baud = 1.5"]
)
def test_a_line_that_no_port_has_is_refused(tmp_path: Path, line: str):
    text = (SHIPPED / "practice_meter.toml").read_text().replace("patience_ms = 4000", line, 1)
    (tmp_path / "bad.toml").write_text(text)
    with pytest.raises(FileFormatError, match=line.split()[0]):
        read_family(tmp_path / "bad.toml")
