"""Ohms by range: what a junction reads depends on the current of the range it is read in."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.small_board import small_board

from ohmwright.circuit import Board, ElementKind, Net, Part, Pin, Spread
from ohmwright.diagnosis import posterior_of
from ohmwright.evidence import Electrical
from ohmwright.evidence.probe import MOST_DECADES, RANGE_TOP, Probe, probe_of
from ohmwright.facts import HANDHELD, Facts, Quantity, Reading
from ohmwright.solver.newton import THERMAL_VOLTAGE

DROP = 0.62
"""Drop of the one junction at a milliampere. [V]"""


def _board() -> Board:
    parts = (
        Part(
            "D1", "diode", (Pin("1", "V", "anode"), Pin("2", "GND", "cathode")),
            parameters=(("forward", Spread(DROP, 0.01)),),
        ),
    )  # fmt: skip
    return Board("one junction", "GND", (Net("GND"), Net("V")), parts, unmapped_share=0.0)


def _reading(value: float | None) -> Reading:
    return Reading(Quantity.OHMS, "V", "GND", value)


def _predicted(electrical: Electrical, reading: Reading) -> tuple[float, Probe]:
    line = electrical.line(reading)
    shelf = electrical.shelf(line)
    electrical.fill([(shelf, np.zeros(1, dtype=np.intp))])
    return float(line.probe.unscaled(shelf.y[shelf.row_of[0]])), line.probe


@pytest.mark.parametrize("value", [3e3, 40e3, 300e3, 3e6, 30e6, None])
def test_a_junction_in_each_range(value: float | None) -> None:
    """Against Shockley's equation and Kirchhoff's laws, solved by scipy.optimize.brentq."""
    electrical = Electrical(_board())
    found, probe = _predicted(electrical, _reading(value))
    elements = electrical.forward.wiring.elements
    junction = next(e for e in elements if e.kind is ElementKind.JUNCTION)
    beside = sum(1.0 / e.median for e in elements if e.kind is ElementKind.RESISTIVE)
    n_vt = junction.emission * THERMAL_VOLTAGE
    saturation = 1e-3 / math.expm1(junction.median / n_vt)
    reference = probe.meter.ohms_compliance / probe.meter.ohms_current

    def left_over(volts: float) -> float:
        through = saturation * math.expm1(volts / n_vt) + volts * beside
        return (probe.meter.ohms_compliance - volts) / reference - through

    volts = brentq(left_over, 0.0, probe.meter.ohms_compliance)
    wanted = volts * reference / (probe.meter.ohms_compliance - volts)
    assert found == pytest.approx(wanted, rel=0.02, abs=1.0)


def test_a_higher_range_reads_a_junction_higher() -> None:
    electrical = Electrical(_board())
    shown = [_predicted(electrical, _reading(value))[0] for value in (3e3, 30e3, 300e3, 3e6)]
    assert all(b > 1.5 * a for a, b in pairwise(shown))


@pytest.mark.parametrize("value", [0.0, 12.0, 4.9e3, 5.1e3, 2e5, 4e6, 3.9e7])
def test_the_range_is_the_lowest_that_shows_the_value(value: float) -> None:
    first = HANDHELD.ohms_compliance / HANDHELD.ohms_current
    meter = probe_of(_board(), _reading(value)).meter
    reference = meter.ohms_compliance / meter.ohms_current
    decades = round(math.log10(reference / first))
    assert reference == pytest.approx(first * 10.0**decades)
    assert value <= RANGE_TOP * reference or decades == MOST_DECADES
    assert decades == 0 or value > RANGE_TOP * reference / 10.0


def test_the_same_on_either_side_of_a_range_s_top_is_one_reading() -> None:
    top = RANGE_TOP * HANDHELD.ohms_compliance / HANDHELD.ohms_current
    below, above = replace(_reading(0.997 * top), key="e1"), replace(_reading(1.003 * top), key="e2")
    electrical = Electrical(_board())
    lines = electrical.line(below), electrical.line(above)
    assert lines[0].probe != lines[1].probe
    assert lines[0].shows_as(lines[1])
    kept = posterior_of(_board(), Facts(readings=(below, above))).lines
    assert [line.reading.key for line in kept] == ["e2"], "the later one stands for both"
    assert kept[0].twice


def test_what_needs_no_range_keeps_its_meter() -> None:
    four_wire = replace(HANDHELD, four_wire=True)
    assert probe_of(_board(), replace(_reading(2e6), meter=four_wire)).meter == four_wire
    diode = Reading(Quantity.DIODE, "GND", "V", None)
    assert probe_of(_board(), diode).meter == HANDHELD
    assert probe_of(_board(), _reading(None)).meter.ohms_current == pytest.approx(HANDHELD.ohms_current * 1e-4)


def test_what_is_asked_is_asked_in_the_range_that_will_show_it() -> None:
    board = small_board()
    electrical = Electrical(board)
    nets = [net.name for net in board.nets if net.name != "GND"]
    asked = [Reading(Quantity.OHMS, net, "GND", 0.0) for net in nets]
    lines = electrical.lines_asked(asked)
    assert [line.reading for line in lines] == asked
    ranges = set()
    for line in lines:
        shelf = electrical.shelf(line)
        shown = float(line.probe.unscaled(shelf.y[shelf.row_of[0]]))
        reference = line.probe.meter.ohms_compliance / line.probe.meter.ohms_current
        assert shown <= RANGE_TOP * reference * 1.001 or reference > 1e6
        ranges.add(reference)
    assert len(ranges) > 2
