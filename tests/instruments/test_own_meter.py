"""The meter in hand without a line to it: kept, read back, chosen from what is described, and refused where wrong."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from ohmwright.errors import OhmwrightError
from ohmwright.evidence.blindness import largest_leak_seen
from ohmwright.evidence.probe import Probe
from ohmwright.facts import HANDHELD, Quantity
from ohmwright.instruments.family import SHIPPED, read_family
from ohmwright.instruments.own_meter import choose_meter, described_meters, keep_meter, own_meter, own_model

LIMITS = {"diode": {"percent": 1.0, "counts": 3, "step": 1e-3}, "ohms": {"percent": 0.9, "counts": 5, "step": 0.1}}


def test_where_nobody_described_one_it_is_a_common_hand_held(tmp_path: Path):
    assert own_meter(tmp_path / "meter.toml") is None
    assert own_model(tmp_path / "meter.toml") == HANDHELD


def test_what_was_kept_is_read_back(tmp_path: Path):
    path = tmp_path / "config" / "meter.toml"
    told = {"diode_current": 0.3e-3, "diode_compliance": 1.5, "diode_overload": 1.4, "lead_resistance": 0.0}
    keep_meter('The "yellow" one\\', told, LIMITS, path)
    found = own_meter(path)
    assert found is not None
    assert found.name == 'The "yellow" one\\'
    assert (found.meter.diode_current, found.meter.diode_compliance, found.meter.lead_resistance) == (0.3e-3, 1.5, 0.0)
    assert found.meter.accuracy == pytest.approx(0.01 / math.sqrt(3))
    assert [one.name for one in path.parent.iterdir()] == ["meter.toml"]


@pytest.mark.parametrize(
    ("name", "figures", "limits"),
    [
        ("", {}, {}),
        ("x", {"diode_current": 0.0}, {}),
        ("x", {"diode_current": math.nan}, {}),
        ("x", {"diode_current": -1e-3}, {}),
        ("x", {"colour": 1.0}, {}),
        ("x", {}, {"diode": {"percent": 1.0, "counts": 2, "step": 0.0}}),
        ("x", {}, {"farads": {"percent": 1.0, "counts": 2, "step": 1e-12}}),
    ],
)
def test_a_wrong_figure_is_refused_and_leaves_what_was_kept(tmp_path: Path, name, figures, limits):
    path = tmp_path / "meter.toml"
    keep_meter("good", {"diode_current": 1e-3}, LIMITS, path)
    with pytest.raises(OhmwrightError):
        keep_meter(name, figures, limits, path)
    assert own_meter(path).name == "good"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("family", described_meters(), ids=lambda family: family.name)
def test_a_described_meter_is_made_ones_own_whole(tmp_path: Path, family):
    chosen = choose_meter(family.name, tmp_path / "meter.toml")
    assert chosen.meter == family.meter


def test_the_counts_of_a_meter_reach_what_is_believed_of_its_readings(tmp_path: Path):
    """Five counts of 0.1 ohm are a half width of 0.5 ohm, by the root of three 0.29 ohm (JCGM 100:2008, 4.3.7)."""
    five = keep_meter("five", {"lead_resistance": 0.0}, LIMITS, tmp_path / "a.toml").meter
    one = keep_meter("one", {"lead_resistance": 0.0}, LIMITS | {"ohms": {**LIMITS["ohms"], "counts": 1}},
                     tmp_path / "b.toml").meter  # fmt: skip
    noise = [Probe(Quantity.OHMS, "A", "B", meter) for meter in (five, one)]
    ohms = [probe.noise(0.3) / float(probe.slope(0.3)) for probe in noise]
    assert ohms[0] == pytest.approx(0.29, rel=0.15)
    assert ohms[1] < 0.5 * ohms[0]


def test_a_low_test_current_finds_larger_leaks():
    """Low-current meters are the better leak finders, by Ohm's law: the same leak takes a larger share of less."""
    kinds = {path.stem: read_family(path).meter for path in SHIPPED.glob("hand_held_*.toml")}
    leaks = [largest_leak_seen(kinds[f"hand_held_{name}"]) for name in ("low_current", "half", "one", "strong")]
    assert leaks == sorted(leaks, reverse=True)
    assert leaks[0] > 2 * leaks[2]
