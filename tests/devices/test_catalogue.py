"""Every kind of part conducts finitely and shares out its failures."""

from __future__ import annotations

import math

import pytest

from ohmwright.circuit import Part, Pin
from ohmwright.devices import KINDS, Kind


def part_of(kind: Kind) -> Part:
    roles = kind.roles or ("", "")
    if "SW1" in roles:
        # a switching charger has one leg, SW, or two, SW1 and SW2, never three
        roles = tuple(role for role in roles if role != "SW")
    pins = tuple(Pin(number=str(i), role=role, net=f"N{i}") for i, role in enumerate(roles, 1))
    return Part(name="X1", kind=kind.name, pins=pins)


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_elements_are_finite_and_between_two_nets(kind: Kind) -> None:
    for element in kind.elements(part_of(kind)):
        assert element.a != element.b
        assert math.isfinite(element.median)
        assert element.median >= 0
        assert math.isfinite(element.spread)
        assert element.spread >= 0
        assert element.emission > 0


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_shares_sum_to_at_most_one(kind: Kind) -> None:
    shares = [mode.share for mode in kind.modes(part_of(kind))]
    assert all(share >= 0 for share in shares)
    assert sum(shares) <= 1 + 1e-9


def test_a_rate_says_where_it_is_from() -> None:
    assert [kind.name for kind in KINDS.values() if kind.rate < 0 or not kind.rate_source] == []


def test_a_chip_whose_enable_is_tied_to_its_supply_still_loads_it() -> None:
    """Two pins on one net: the one that draws current counts, whichever is drawn first."""
    pins = (Pin("1", "V18", "IO"), Pin("2", "V18", "VDD"), Pin("3", "GND", "GND"))
    loads = [
        [element for element in KINDS["ic"].elements(Part("U1", "ic", order)) if element.label.startswith("load ")]
        for order in (pins, pins[::-1])
    ]
    assert [len(found) for found in loads] == [1, 1]
    assert loads[0] == loads[1]
