"""The real bench process, spoken to through PyVISA and by bare sockets."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from ohmwright.circuit import Feed
from ohmwright.errors import DataError, InstrumentError, RefusedError
from ohmwright.facts import HANDHELD, HeatFinding, LookFinding
from ohmwright.instruments.local_bench import LocalBench, open_bench
from ohmwright.instruments.scpi_line import ScpiLine
from ohmwright.safety import Permit
from ohmwright.usecases.run_test import PracticeBench


@pytest.fixture(scope="module")
def bench() -> Iterator[LocalBench]:
    opened = open_bench("greenhouse", "greenhouse-no-relays", 5)
    yield opened
    opened.close()


@pytest.fixture
def ports() -> Iterator[dict[str, int]]:
    command = [sys.executable, "-m", "ohmwright.practice", "--board", "logger", "--fault", "none", "--seed", "3"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        assert process.stdin
        yield json.loads(process.stdout.readline())
        process.stdin.close()
        assert process.wait(5) == 0


def permitted(net: str, volts: float, limit: float) -> Permit:
    return Permit(Feed(net, "GND", volts, limit))


def test_a_whole_case_by_hand(bench: LocalBench) -> None:
    fits: PracticeBench = bench
    assert fits.seed == 5
    assert fits.meter == HANDHELD
    assert fits.board.name == "greenhouse controller"
    before = bench.read("ohms", "V5REL", "GND")
    assert before is not None
    assert before < 1.5
    clean = bench.read("ohms", "V5", "GND")
    assert clean is not None
    assert clean > 300.0
    assert bench.read("diode", "V24", "SW5") is None

    bench.feed(permitted("V5", 5.0, 0.5))
    volts, amps = bench.read("supply volts", "V5", "GND"), bench.read("supply amps", "V5", "GND")
    assert volts is not None
    assert amps is not None
    # By Ohm's law: what is shorted, the switch and the leads together.
    assert amps == pytest.approx(0.5, rel=0.03)
    assert 0.6 * 0.5 < volts < 1.0 * 0.5
    with pytest.raises(DataError, match="supply is on"):
        bench.take_off("C16")
    bench.feed_off()
    bench.discharge()

    bench.take_off("C16")
    loose = bench.read("part ohms", "C16.1", "C16.2")
    assert loose == pytest.approx(0.8, abs=0.4)  # the defect's 0.6 Ω, leads and touch
    after = bench.read("ohms", "V5REL", "GND")
    assert after is not None
    assert after > 1000.0
    bench.refit("C16")
    assert not bench.tried()
    bench.take_off("C16")
    bench.replace("C16")
    assert bench.tried()
    assert bench.truth() == ("C16",)
    assert bench.harm() == ()
    assert bench.entry("V24IN") == (24.0, True, True)
    assert bench.look(("C16", "C17"))[1] in LookFinding


def test_no_supply_without_a_permit(bench: LocalBench) -> None:
    with pytest.raises(RefusedError):
        bench.feed(Feed("V5", "GND", 5.0, 0.5))  # type: ignore[arg-type]  # what the rule is about
    assert bench.heat(()) == ((), HeatFinding.NOTHING)


def test_refusals_are_told(bench: LocalBench) -> None:
    with pytest.raises(DataError, match="V5RAIL"):
        bench.read("ohms", "V5RAIL", "GND")
    with pytest.raises(InstrumentError) as caught:
        bench.feed(permitted("V5", 90.0, 0.5))
    assert "-222" in caught.value.why
    bench.feed_off()


def test_heat_is_where_the_power_is() -> None:
    bench = open_bench("greenhouse", "greenhouse-lightning", 11)
    bench.feed(permitted("V24F", 0.8, 5.0))
    parts, finding = bench.heat(())
    bench.close()
    assert finding is not HeatFinding.NOTHING
    assert "D1" in parts


def test_dirt_is_told_by_its_net() -> None:
    bench = open_bench("", "greenhouse-sleepy-reset", 4)
    assert bench.truth() == ("NRST",)
    bench.clean("NRST")
    assert bench.tried()
    bench.close()


def test_too_many_volts_are_remembered() -> None:
    bench = open_bench("logger", "none", 2)
    bench.feed(permitted("V18", 3.3, 0.5))
    assert "V18" in bench.harm()
    bench.feed_off()
    assert not bench.tried()
    bench.close()


def test_the_meter_keeps_to_scpi(ports: dict[str, int]) -> None:
    """Numbers and texts after SCPI-99, volume 2, section 21.8; overload after volume 1, section 7.2.1.4."""
    with ScpiLine.at_socket("127.0.0.1", ports["meter"]) as line:
        assert len(line.ask("*IDN?").split(",")) == 4  # IEEE 488.2-1992, section 10.14.3
        assert float(line.ask(":configure:resistance;READ?")) == 9.9e37  # probes in the air
        assert line.ask("SYST:ERR?") == '0,"No error"'
        with pytest.raises(InstrumentError) as caught:
            line.say("CONF:TEMPERATURE")
        assert caught.value.why.startswith("-113: Undefined header")
        with pytest.raises(InstrumentError) as caught:
            line.say("CONF:RES 100")
        assert caught.value.why.startswith("-108: Parameter not allowed")
        for _ in range(40):
            line._write("NONSENSE")
        queue = [line.ask("SYST:ERR?") for _ in range(21)]
        assert queue[-2].startswith("-350")
        assert queue[-1] == '0,"No error"'


def test_the_supply_keeps_to_scpi(ports: dict[str, int]) -> None:
    with ScpiLine.at_socket("127.0.0.1", ports["supply"]) as line:
        line.say("SOUR:VOLT:LEV 3.3")
        line.say("CURRENT 2.5E-1")
        assert line.number("VOLT?") == 3.3
        assert line.number("CURR?") == 0.25
        for command, number in (("VOLT", "-109"), ("VOLT many", "-104"), ("VOLT 1000", "-222"), ("OUTP ON", "-221")):
            with pytest.raises(InstrumentError) as caught:
                line.say(command)
            assert caught.value.why.startswith(number), command
        assert line.ask("OUTP?") == "0"
        assert line.number("MEAS:CURR?") == 0.0


def test_the_hands_survive_nonsense(ports: dict[str, int]) -> None:
    with socket.create_connection(("127.0.0.1", ports["hands"]), timeout=5) as wire, wire.makefile("rb") as lines:
        for text in (
            b"{",
            b"[]",
            b'{"do": 3}',
            b'{"do": "fly"}',
            b'{"do": "look", "parts": "C1"}',
            b"\xff",
            b"[" * 5000,
        ):
            wire.sendall(text + b"\n")
            answer = json.loads(lines.readline())
            assert answer["ok"] is False, text
            assert answer["what"]
        wire.sendall(b'{"do": "try"}\n')
        assert json.loads(lines.readline()) == {"ok": True, "works": True}


def test_foreign_files_run(tmp_path: Path) -> None:
    board, fault = tmp_path / "b.json", tmp_path / "f.json"
    board.write_text('{"name": "lamp", "parts": [{"name": "C1", "kind": "capacitor", "pins": ["V", "GND"]}]}')
    fault.write_text('{"board": "lamp", "defects": [{"part": "C1", "mode": "short", "ohms": 2}]}')
    for told in (str(fault), "random"):
        bench = open_bench(str(board), told, 1)
        ohms = bench.read("ohms", "V", "GND")
        assert ohms is not None
        assert ohms < 8.0
        assert bench.truth() == ("C1",)
        bench.close()
    for board_told, fault_told in (
        (str(tmp_path / "no.json"), "none"),
        ("greenhouse", str(fault)),
        ("greehouse", "none"),
    ):
        with pytest.raises(InstrumentError) as caught:
            open_bench(board_told, fault_told, 1)
        assert caught.value.why


def test_the_same_seed_is_the_same_bench() -> None:
    found = []
    for _ in range(2):
        bench = open_bench(None, None, 17)
        points = [net.name for net in bench.board.nets if net.rail]
        found.append((bench.board.name, bench.truth(), [bench.read("diode", bench.board.ground, n) for n in points]))
        bench.close()
    assert found[0] == found[1]
    assert found[0][1]


def test_a_silent_address_is_told() -> None:
    with socket.create_server(("127.0.0.1", 0)) as unused:
        port = unused.getsockname()[1]
    with pytest.raises(InstrumentError):
        ScpiLine.at_socket("127.0.0.1", port)
