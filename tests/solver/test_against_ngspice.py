"""Random circuits with faults, solved here and by ngspice, which shares no code with us."""

from __future__ import annotations

import random
import re
import subprocess
from pathlib import Path

import pytest

from ohmwright.circuit import Element, ElementKind
from ohmwright.solver import Network, Port, saturation_current, solve
from ohmwright.solver.newton import LEAK

CIRCUITS = 500
AGREEMENT = 0.5e-3
"""Largest difference allowed. [V]

The largest found, a third of a millivolt, does not shrink with ngspice's tolerances; probably it is ngspice's
cubic approximation of the reverse current below -3 n kT/q (from memory, not checked).
"""


def random_circuit(dice: random.Random) -> tuple[Network, Port]:
    nets = tuple(f"n{i}" for i in range(dice.randint(2, 9)))
    elements = []
    for number in range(1, len(nets) + dice.randint(1, 9)):
        # the first elements make a tree, so that every net is reached; the others are extra paths
        a = nets[number] if number < len(nets) else dice.choice(nets)
        b = dice.choice([n for n in (nets[:number] if number < len(nets) else nets) if n != a])
        if dice.random() < 0.3:
            drop, emission = dice.uniform(0.2, 0.75), dice.uniform(1.0, 2.0)
            ends = (a, b) if dice.random() < 0.5 else (b, a)
            elements.append(Element(f"D{number}", "j", ElementKind.JUNCTION, *ends, drop, 0.0, emission))
        else:
            elements.append(Element(f"R{number}", "r", ElementKind.RESISTIVE, a, b, 10 ** dice.uniform(-1, 6), 0.0))
    if dice.random() < 0.6:
        fault = 10 ** dice.uniform(-2, 5)
        elements.append(Element("F", "fault", ElementKind.RESISTIVE, *dice.sample(nets, 2), fault, 0.0))
    plus = dice.choice(nets[1:])
    meter = Port(plus, "n0", 10 ** dice.uniform(-5, -2.3), dice.uniform(1.2, 5.0), 10 ** dice.uniform(0, 3))
    return Network(nets, "n0", tuple(elements)), meter


def deck_lines(k: int, network: Network, port: Port) -> list[str]:
    def node(net: str) -> str:
        return "0" if net == network.ground else f"c{k}{net}"

    lines = []
    for i, e in enumerate(network.elements):
        if e.kind is ElementKind.RESISTIVE:
            lines.append(f"R{k}_{i} {node(e.a)} {node(e.b)} {e.median:.15g}")
        else:
            lines.append(f"D{k}_{i} {node(e.a)} {node(e.b)} m{k}_{i}")
            current = saturation_current(e.median, e.emission)
            lines.append(f".model m{k}_{i} D(IS={current:.15g} N={e.emission:.15g})")
    lines += [f"RL{k}_{net} {node(net)} 0 {1 / LEAK:g}" for net in network.nets if net != network.ground]
    p = node(port.plus)
    drive = f"max(0,min({port.current:.15g},({port.volts:.15g}-v({p}))/{port.knee:.15g}))"
    return [*lines, f"B{k} 0 {p} I={drive}"]


def ngspice_volts(decks: list[list[str]], work: Path) -> dict[str, float]:
    """Every node voltage by name. [V]"""
    lines = [
        "circuits side by side, sharing only ground",
        ".options temp=27 tnom=27 gmin=1e-15 reltol=1e-6 abstol=1e-15",
    ]
    for deck in decks:
        lines += deck
    lines += [".control", "set numdgt=12", "op", "print all", ".endc", ".end"]
    path = work / "circuits.cir"
    path.write_text("\n".join(lines) + "\n")
    run = subprocess.run(["ngspice", "-b", path], capture_output=True, text=True, timeout=120, check=False)
    found = re.findall(r"^(c\d+n\d+) = (\S+)$", run.stdout, re.MULTILINE)
    assert found, run.stdout[-800:] + run.stderr[-800:]
    return {name: float(value) for name, value in found}


@pytest.mark.slow
def test_five_hundred_random_circuits(tmp_path: Path) -> None:
    circuits = [random_circuit(random.Random(20261125 + k)) for k in range(CIRCUITS)]
    worst, where, compared = 0.0, "", 0
    for start in range(0, CIRCUITS, 25):
        chosen = list(enumerate(circuits))[start : start + 25]
        theirs = ngspice_volts([deck_lines(k, network, port) for k, (network, port) in chosen], tmp_path)
        for k, (network, port) in chosen:
            ours = solve(network, port)
            for net in network.nets[1:]:
                compared += 1
                difference = abs(ours.voltage(net) - theirs[f"c{k}{net}"])
                if difference > worst:
                    worst, where = difference, f"circuit {k}, {net}: ours {ours.voltage(net)}, {port}"
    print(f"largest difference of {compared} voltages: {worst * 1e6:.2f} uV at {where}")
    assert compared > 2 * CIRCUITS
    assert worst < AGREEMENT, where
