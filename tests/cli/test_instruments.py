"""`ohmwright instruments` against the practice bench in a process of its own."""

import json
import subprocess
import sys

from typer.testing import CliRunner

from ohmwright.cli.commands import app


def test_a_meter_is_asked_and_tested():
    command = [sys.executable, "-m", "ohmwright.practice", "--board", "logger", "--fault", "none", "--seed", "3"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as bench:
        ports = json.loads(bench.stdout.readline())
        meter, supply = (f"TCPIP0::127.0.0.1::{ports[name]}::SOCKET" for name in ("meter", "supply"))
        asked = CliRunner().invoke(app, ["instruments", meter])
        tested = CliRunner().invoke(app, ["instruments", meter, "--read", "ohms"])
        other = CliRunner().invoke(app, ["instruments", supply])
        bench.stdin.close()
    assert "practice meter (meter)" in asked.output
    assert "practice meter, ohms: OL" in tested.output  # its probes hang in the air
    assert "practice supply (supply)" in other.output


def test_the_families_are_listed():
    listed = CliRunner().invoke(app, ["instruments", "--families"])
    assert "SCPI bench meter" in listed.output
    assert "Yours go into" in listed.output
