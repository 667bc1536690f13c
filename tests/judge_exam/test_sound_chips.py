"""Chips of the examination's boards as a meter sees them while nothing is wrong."""

from __future__ import annotations

import numpy as np
import pytest
from judge.laws import LAWS, Hint
from judge.meter import open_ohms
from judge.netlist import Network
from judge.newton import solve

from ohmwright.circuit import Pin
from ohmwright.facts import Meter

LEAST = 10e-6 / 0.45
"""What logic may draw below its turn-on: 10 µA at what an ohmmeter gives at most. [S]"""


@pytest.mark.parametrize("volts", [1.0, 1.8, 3.3, 5.0, 12.0, 19.0])
def test_a_chip_begins_to_draw_above_what_a_meter_gives(volts: float) -> None:
    """Ohms show the leak of a supply pin; logic conducts above half a volt and more (common practice, no source)."""
    hint = Hint({"VDD": volts}, frozenset(), 1e3, both_ways=False, share=1)
    pins = {"VDD": [Pin("1", "VDD", "VDD")], "GND": [Pin("2", "GND", "GND")]}
    for seed in range(15):
        chip = LAWS["ic"](np.random.default_rng(seed), pins, hint)
        load = next(part.size for part in chip if part.label.startswith("load"))
        network = Network("2")
        for part in chip:
            if part.kind == "D":
                network.join(part.a, part.b, part.size, part.emission, part.series)
            else:
                network.resist(part.a, part.b, part.size)

        def port(amps: float, network: Network = network) -> float:
            network.sources.clear()
            network.push("2", "1", amps)
            return solve(network)["1"]

        shown = open_ohms(port, Meter())
        assert shown is not None
        assert 0.95 / (1.0 / load + LEAST) < shown <= 1.001 * load
