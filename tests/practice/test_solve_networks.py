"""The bench's own solver against ngspice, closed forms and published tables; none of them shares code with it."""

from __future__ import annotations

import math
import random
import re
import subprocess
from pathlib import Path

import pytest
from scipy.special import lambertw

from ohmwright.practice.solve import GMIN, THERMAL, Network, junction_amps, solved

CIRCUITS = 60
AGREEMENT = 0.5e-3
"""Largest difference from ngspice allowed; ngspice rounds the reverse knee of a junction (from memory). [V]"""


def test_unbalanced_bridge() -> None:
    """100, 200, 300, 150 and 50 Ω at 12 V: 12/13 V across the bridge, by Kirchhoff's laws in fractions."""
    bridge = Network("0")
    bridge.resistances = [
        ("top", "1", 100.0), ("1", "0", 200.0), ("top", "2", 300.0), ("2", "0", 150.0), ("1", "2", 50.0),
    ]  # fmt: skip
    bridge.sources = [("top", "0", 10.0, 12.0, 1e-6)]
    answer = solved(bridge)
    assert answer.across("1", "2") == pytest.approx(12 / 13, abs=1e-6)
    assert answer.source_amps[0] == pytest.approx(12 * 71 / 11700, rel=1e-6)


def test_cube_of_one_ohm_edges() -> None:
    """7/12, 3/4 and 5/6 Ω along edge, face and body diagonal: a classic of textbooks."""
    corners = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
    edges = [
        (a, b)
        for i, a in enumerate(corners)
        for b in corners[i + 1 :]
        if sum(abs(p - q) for p, q in zip(a, b, strict=True)) == 1
    ]
    for far, ohms in (((1, 0, 0), 7 / 12), ((1, 1, 0), 3 / 4), ((1, 1, 1), 5 / 6)):
        cube = Network("(0, 0, 0)")
        cube.resistances = [(str(a), str(b), 1.0) for a, b in edges]
        cube.sources = [(str(far), cube.ground, 1.0, 100.0, 1e-3)]
        assert solved(cube).volts[str(far)] == pytest.approx(ohms, rel=1e-9)


@pytest.mark.parametrize(("volts", "ohms"), [(5.0, 1e3), (1.0, 1e3), (24.0, 47.0), (0.5, 1e5)])
def test_junction_behind_a_resistance(volts: float, ohms: float) -> None:
    """The exact answer with Lambert's W (Banwell and Jayakumar, Electron. Lett. 36, 2000, from memory)."""
    drop, emission = 0.55, 1.3
    width = emission * THERMAL
    saturation = 1e-3 * math.exp(-drop / width)
    power = (volts + saturation * ohms) / width + math.log(saturation * ohms / width)
    # The argument itself overflows; W(e^x) solves w + ln w = x.
    w = float(lambertw(math.exp(power)).real) if power < 600 else _omega(power)
    amps = width / ohms * w - saturation
    network = Network("0", [], [("a", "0", drop, emission)], [("a", "0", 1e3, volts, ohms)])
    assert solved(network).source_amps[0] == pytest.approx(amps, rel=1e-6)


def _omega(x: float) -> float:
    w = x - math.log(x)
    for _ in range(50):
        w -= (w + math.log(w) - x) / (1 + 1 / w)
    return w


@pytest.mark.parametrize(
    ("amps", "reading"), [(0.3e-3, 0.509), (0.5e-3, 0.527), (1.0e-3, 0.550), (1.5e-3, 0.564)]
)  # fmt: skip
def test_one_junction_at_four_test_currents(amps: float, reading: float) -> None:
    """0.55 V at 1 mA with n = 1.3 by the diode law at 300 K, computed apart; to a millivolt."""
    network = Network("0", [], [("0", "a", 0.55, 1.3)], [("0", "a", amps, 3.0, 100.0)])
    assert -solved(network).volts["a"] == pytest.approx(reading, abs=1e-3)
    assert junction_amps(reading, 0.55, 1.3) == pytest.approx(amps, rel=0.05)


def test_sources_hold_volts_or_amps_and_sinks_let_go() -> None:
    network = Network("0", [("a", "0", 10.0)], [], [("a", "0", 1.0, 5.0, 0.05)])
    assert solved(network).source_amps[0] == pytest.approx(5 / 10.05, rel=1e-6)
    network.resistances = [("a", "0", 0.1)]
    assert solved(network).volts["a"] == pytest.approx(0.1, rel=1e-6)
    held = Network("0", [("a", "0", 1e6)], [], [("a", "0", 0.5, 24.0, 0.05)], [("a", "0", 2.0, 8.0, 0.1)])
    assert solved(held).volts["a"] == pytest.approx(8.05, rel=1e-4)


def circuit(dice: random.Random) -> Network:
    nodes = [f"n{i}" for i in range(dice.randint(3, 12))]
    network = Network("n0")
    for i in range(1, len(nodes)):
        network.resistances.append((nodes[i], dice.choice(nodes[:i]), 10 ** dice.uniform(-2, 6)))
    for _ in range(dice.randint(1, 12)):
        a, b = dice.sample(nodes, 2)
        if dice.random() < 0.5:
            network.junctions.append((a, b, dice.uniform(0.2, 0.9), dice.uniform(1.0, 2.4)))
        else:
            network.resistances.append((a, b, 10 ** dice.uniform(-2, 6)))
    network.sources.append(
        (nodes[1], "n0", 10 ** dice.uniform(-4, -1), dice.uniform(0.5, 24), 10 ** dice.uniform(-1, 3))
    )
    network.sinks.append((nodes[2], "n0", 10 ** dice.uniform(-4, -1), dice.uniform(0.5, 5), dice.uniform(1, 100)))
    return network


def deck(k: int, network: Network) -> list[str]:
    def node(name: str) -> str:
        return "0" if name == network.ground else f"c{k}{name}"

    lines = [f"R{k}_{i} {node(a)} {node(b)} {ohms:.15g}" for i, (a, b, ohms) in enumerate(network.resistances)]
    for i, (a, b, drop, emission) in enumerate(network.junctions):
        saturation = 1e-3 * math.exp(-drop / (emission * THERMAL))
        lines += [
            f"D{k}_{i} {node(a)} {node(b)} m{k}_{i}",
            f".model m{k}_{i} D(IS={saturation:.15g} N={emission:.15g})",
        ]
    names = {n for group in (network.resistances, network.junctions) for branch in group for n in branch[:2]}
    lines += [f"RG{k}_{n} {node(n)} 0 {1 / GMIN:g}" for n in names if n != network.ground]
    for i, (a, _, amps, volts, ohms) in enumerate(network.sources):
        lines.append(f"BS{k}_{i} 0 {node(a)} I=max(0,min({amps:.15g},({volts:.15g}-v({node(a)}))/{ohms:.15g}))")
    for i, (a, _, amps, volts, ohms) in enumerate(network.sinks):
        lines.append(f"BK{k}_{i} {node(a)} 0 I=max(0,min({amps:.15g},(v({node(a)})-{volts:.15g})/{ohms:.15g}))")
    return lines


def ngspice(decks: list[list[str]], work: Path) -> dict[str, float]:
    """Every node voltage by name. [V]"""
    options = ".options temp=27 tnom=27 gmin=1e-15 reltol=1e-6 abstol=1e-15"
    lines = ["circuits side by side", options, *(line for d in decks for line in d)]
    lines += [".control", "set numdgt=12", "op", "print all", ".endc", ".end"]
    path = work / "circuits.cir"
    path.write_text("\n".join(lines) + "\n")
    run = subprocess.run(["ngspice", "-b", path], capture_output=True, text=True, timeout=120, check=False)
    found = re.findall(r"^(c\d+n\d+) = (\S+)$", run.stdout, re.MULTILINE)
    assert found, run.stdout[-800:] + run.stderr[-800:]
    return {name: float(value) for name, value in found}


@pytest.mark.slow
def test_random_circuits_agree_with_ngspice(tmp_path: Path) -> None:
    circuits = [circuit(random.Random(7_000 + k)) for k in range(CIRCUITS)]
    worst, compared = 0.0, 0
    for start in range(0, CIRCUITS, 20):
        some = list(enumerate(circuits))[start : start + 20]
        theirs = ngspice([deck(k, network) for k, network in some], tmp_path)
        for k, network in some:
            for name, volts in solved(network).volts.items():
                if name != network.ground:
                    compared += 1
                    worst = max(worst, abs(volts - theirs[f"c{k}{name}"]))
    assert compared > 3 * CIRCUITS
    assert worst < AGREEMENT
