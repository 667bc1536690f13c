"""The outside circuit simulator, kept running as a child process and asked one operating point after another.

ngspice is started once in pipe mode (``ngspice -p``). A circuit is read once; then only its probe current
sources are altered, so that a reading costs one operating point and no parsing. Where it does not converge
the circuit is read again with other options (gmin stepping, coarser tolerances, source stepping); what is left
over goes to `judge.newton`, is counted and listed.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import re
import select
import subprocess
import tempfile
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from judge import newton
from judge.netlist import Network

PATIENCE = 30.0
"""Seconds an answer may take."""
FINE = "reltol=1e-6 vntol=1e-9 abstol=1e-14 gmin=1e-13"
COARSE = "reltol=1e-5 vntol=1e-8 abstol=1e-11 gmin=1e-12"
"""Ten microvolts in a volt: still below what any meter here can tell."""
LADDER = (
    ("plain", f"{FINE} itl1=150", "1 0 0"),
    ("plain, coarse", f"{COARSE} itl1=300", "1 0 0"),
    ("gmin stepping", f"{FINE} itl1=300", "0 1 0"),
    ("gmin stepping, coarse", f"{COARSE} itl1=600", "0 1 0"),
    ("source stepping, coarse", f"{COARSE} itl1=600", "0 0 1"),
)
"""Name and options of each try, and which ways it may go: straight on, by gmin steps, by source steps."""
MOST_TOLD = 10
"""Left-over points told of one case and policy, though all are counted. [1]"""
NUMBER = re.compile(r"=\s*([-+0-9.eE]+)\s*$")
Pushes = Sequence[tuple[str, str, float]]


@dataclass
class Tally:
    """How the operating points came about.

    Attributes
    ----------
    leftovers : list of str
        One line for each that only the third solver could do.
    seconds : float
        Spent in the simulator, reading of circuits included. [s]
    """

    points: int = 0
    circuits: int = 0
    retried: dict[str, int] = field(default_factory=dict)
    leftovers: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def share_left(self) -> float:
        """Share of the points that the third solver had to do. [1]"""
        return len(self.leftovers) / max(self.points, 1)

    def copied(self) -> Tally:
        """As it stands now."""
        return Tally(
            self.points, self.circuits, dict(self.retried), list(self.leftovers), list(self.lost), self.seconds
        )  # fmt: skip

    def since(self, before: Tally) -> dict[str, Any]:
        """What was added since, as plain data."""
        retried = {name: n - before.retried.get(name, 0) for name, n in self.retried.items()}
        left, lost = self.leftovers[len(before.leftovers) :], self.lost[len(before.lost) :]
        return {
            "points": self.points - before.points, "retried": {name: n for name, n in retried.items() if n},
            "third solver": len(left), "lost": len(lost), "left over": left[:MOST_TOLD],
        }  # fmt: skip


class SimulatorMissing(RuntimeError):
    """ngspice is not on this machine."""


class _Failed(Exception):
    """No operating point, with what the simulator said."""


class Simulator:
    """One running ngspice with at most one circuit in it."""

    def __init__(self, program: str = "ngspice") -> None:
        self.tally = Tally()
        self._program = program
        self._child: subprocess.Popen[bytes] | None = None
        self._owner = 0
        self._asked = 0
        self._rest = b""
        self._network: Network | None = None
        self._names: dict[str, str] = {}
        self._rung = 0

    # The child

    def _start(self) -> subprocess.Popen[bytes]:
        if self._child is not None and self._owner == os.getpid() and self._child.poll() is None:
            return self._child
        self.close()
        try:
            child = subprocess.Popen(
                [self._program, "-n", "-p"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
            )
        except FileNotFoundError:
            raise SimulatorMissing("ngspice is missing: install the package of that name") from None
        self._child, self._owner, self._rest, self._network = child, os.getpid(), b"", None
        self._say(child, ["set noaskquit", "set nomoremode", "set numdgt=15"])
        return child

    def _say(self, child: subprocess.Popen[bytes], commands: Iterable[str]) -> list[str]:
        """Send commands and collect what comes back until an echoed mark."""
        self._asked += 1
        mark = f"mark-{self._asked}-end"
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdin.write(("\n".join([*commands, f"echo {mark}"]) + "\n").encode())
        child.stdin.flush()
        lines: list[str] = []
        limit = time.monotonic() + PATIENCE
        while True:
            head, found, tail = self._rest.partition(b"\n")
            if found:
                self._rest = tail
                text = head.decode(errors="replace").rstrip()
                if text.endswith(mark):
                    return lines
                lines.append(text)
                continue
            ready, _, _ = select.select([child.stdout], [], [], max(limit - time.monotonic(), 0.0))
            block = os.read(child.stdout.fileno(), 1 << 16) if ready else b""
            if not block:
                self.close()
                raise _Failed("no answer")
            self._rest += block

    def close(self) -> None:
        """End the child, if it is ours."""
        child, self._child, self._network = self._child, None, None
        if child is None or self._owner != os.getpid():
            return
        child.kill()
        child.wait()
        for stream in (child.stdin, child.stdout):
            if stream is not None:
                with contextlib.suppress(BrokenPipeError):
                    stream.close()

    # Circuits

    def _load(self, network: Network, rung: int) -> subprocess.Popen[bytes]:
        child = self._start()
        if self._network is network and self._rung == rung:
            return child
        if self._network is not None:
            self._say(child, ["destroy all", "remcirc"])
        self._names = {node: f"n{k}" for k, node in enumerate(network.nodes)}
        self._names[network.ground] = "0"
        text = circuit_text(network, self._names, LADDER[rung][1])
        handle, path = tempfile.mkstemp(suffix=".cir")
        try:
            with os.fdopen(handle, "w") as file:
                file.write(text)
            self._say(child, [f"source {path}", f"optran {LADDER[rung][2]} 0 0 0"])
        finally:
            Path(path).unlink()
        self.tally.circuits += 1
        self._network, self._rung = network, rung
        return child

    def volts(self, network: Network, pushes: Pushes = (), wanted: Sequence[str] | None = None) -> dict[str, float]:
        """Volts of nodes against ground, with further currents pushed from one node into another. [V]

        Parameters
        ----------
        network : Network
            Kept in the simulator as long as the same object is asked about.
        pushes : sequence of (str, str, float)
        wanted : sequence of str or None
            Nodes; None for all of them.
        """
        self.tally.points += 1
        begun = time.monotonic()
        try:
            for rung, (name, _, _) in enumerate(LADDER):
                try:
                    found = self._point(network, rung, pushes, wanted)
                except _Failed:
                    continue
                if rung:
                    self.tally.retried[name] = self.tally.retried.get(name, 0) + 1
                return found
            words = f"{len(network.nodes)} nodes, {', '.join(f'{a}>{b} {i:g} A' for a, b, i in pushes)}"
            self.tally.leftovers.append(words)
            try:
                return newton.solve(network, tuple(pushes))
            except (newton.NoSolution, ArithmeticError) as trouble:
                self.tally.lost.append(words)
                raise RuntimeError(f"no solver settles: {words}") from trouble
        finally:
            self.tally.seconds += time.monotonic() - begun

    def _point(self, network: Network, rung: int, pushes: Pushes, wanted: Sequence[str] | None) -> dict[str, float]:
        child = self._load(network, rung)
        amps: dict[str, float] = {}
        for a, b, i in pushes:
            for node, signed in ((a, -i), (b, i)):
                if node != network.ground:
                    amps[node] = amps.get(node, 0.0) + signed
        commands = [f"alter i{self._names[node]} = {i:.12e}" for node, i in amps.items()]
        commands += ["destroy all", "op"]
        nodes = [n for n in (network.nodes if wanted is None else dict.fromkeys(wanted)) if n != network.ground]
        # A single vector is printed under the name "all".
        each = wanted is not None or len(nodes) == 1
        commands += [f"print v({self._names[node]})" for node in nodes] if each else ["print all"]
        commands += [f"alter i{self._names[node]} = 0" for node in amps]
        lines = self._say(child, commands)
        if not any("No. of Data Rows : 1" in line for line in lines) or any("abort" in line for line in lines):
            self._network = None
            self._say(self._start(), ["destroy all", "remcirc"])
            raise _Failed(" ".join(lines)[:200])
        found = _numbers(lines)
        volts = {network.ground: 0.0}
        for node in nodes:
            volts[node] = found[self._names[node]]
        return volts


def _numbers(lines: Iterable[str]) -> dict[str, float]:
    found: dict[str, float] = {}
    for line in lines:
        match = NUMBER.search(line)
        if match:
            name = line[: match.start()].strip()
            found[name[2:-1] if name.startswith("v(") else name] = float(match.group(1))
    return found


def circuit_text(network: Network, names: dict[str, str], options: str) -> str:
    """The circuit in the simulator's own language, with a current source of 0 A into every node."""
    lines = ["judge"]
    # A rail has many parts to ground; what lies between the same two nodes is one resistor to the simulator.
    siemens: dict[tuple[str, str], float] = {}
    for a, b, ohms in network.resistances:
        pair = (a, b) if (a, b) in siemens or (b, a) not in siemens else (b, a)
        siemens[pair] = siemens.get(pair, 0.0) + 1.0 / ohms
    for k, ((a, b), conductance) in enumerate(siemens.items()):
        lines.append(f"r{k} {names[a]} {names[b]} {1.0 / conductance:.9e}")
    for k, (a, c, amps, emission, series) in enumerate(network.junctions):
        lines.append(f"d{k} {names[a]} {names[c]} m{k}")
        lines.append(f".model m{k} d(is={amps:.9e} n={emission:.6f} rs={series:.6e})")
    for k, (a, b, amps) in enumerate(network.sources):
        lines.append(f"ip{k} {names[a]} {names[b]} dc {amps:.12e}")
    lines += [f"i{name} 0 {name} dc 0" for name in names.values() if name != "0"]
    # A node that nothing else ties would leave the matrix singular; 1 TΩ is far beyond any reading.
    lines += [f"rt{name} {name} 0 1e12" for name in names.values() if name != "0"]
    lines += [f".options {options} noacct", ".end"]
    return "\n".join(lines) + "\n"


_SIMULATOR = Simulator()
atexit.register(_SIMULATOR.close)


def simulator() -> Simulator:
    """The simulator of this process."""
    return _SIMULATOR
