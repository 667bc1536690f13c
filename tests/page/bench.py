"""The practice bench as a person has it before them: a process of its own, a meter and a supply that speak SCPI."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OVERLOAD = 9.9e37
"""SCPI-99, volume 1, section 7.2.1.4."""


class Line:
    """One socket, one line each way."""

    def __init__(self, port: int) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=30)
        self._file = self._socket.makefile("rwb")

    def say(self, text: str) -> None:
        self._file.write(text.encode() + b"\n")
        self._file.flush()

    def ask(self, text: str) -> str:
        self.say(text)
        return self._file.readline().decode().strip()

    def close(self) -> None:
        self._file.close()
        self._socket.close()


class Bench:
    """What lies on the table. Names here are the board's true ones."""

    def __init__(self, board: str, fault: str, seed: int, *, resting: bool = True) -> None:
        command = [sys.executable, "-m", "ohmwright.practice", "--board", board, "--fault", fault]
        command += ["--seed", str(seed), *(["--resting"] if resting else [])]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
        )
        self.ports = ports = json.loads(self._process.stdout.readline())
        self._meter, self._supply, self._hands = (Line(ports[name]) for name in ("meter", "supply", "hands"))

    def do(self, what: str, **details: object) -> dict[str, object]:
        answer = json.loads(self._hands.ask(json.dumps({"do": what, **details})))
        assert answer["ok"], answer
        return answer

    def read(self, mode: str, red: str, black: str, *, loose: bool = False) -> str:
        """What the display shows, as one types it."""
        self.do("probe", red=red, black=black, loose=loose)
        self._meter.say({"diode": "CONF:DIOD", "ohms": "CONF:RES", "volts": "CONF:VOLT"}[mode])
        value = float(self._meter.ask("READ?"))
        return "OL" if value >= OVERLOAD else f"{value:.0f}" if abs(value) >= 1e4 else f"{value:.4g}"

    def shown(self, what: str) -> str:
        return f"{float(self._supply.ask(f'MEAS:{what}?')):.4g}"

    def feed(self, plus: str, minus: str, volts: float, limit: float) -> None:
        self._supply.say("OUTP OFF")
        self.do("clip", plus=plus, minus=minus)
        self._supply.say(f"VOLT {volts};CURR {limit}")
        self._supply.say("OUTP ON")
        assert self._supply.ask("OUTP?") == "1"

    def address(self, name: str) -> str:
        """Of the meter or the supply, for VISA."""
        return f"TCPIP0::127.0.0.1::{self.ports[name]}::SOCKET"

    def output(self) -> str:
        return self._supply.ask("OUTP?")

    def feed_off(self) -> None:
        self._supply.say("OUTP OFF")
        assert self.output() == "0"

    def kill(self) -> None:
        """As if the plug was pulled."""
        self._process.kill()
        self._process.wait(15)
        for line in (self._meter, self._supply, self._hands):
            line.close()
        for stream in (self._process.stdin, self._process.stdout):
            stream.close()

    def close(self) -> None:
        for line in (self._meter, self._supply, self._hands):
            line.close()
        self._process.stdin.close()
        self._process.wait(15)
        self._process.stdout.close()
