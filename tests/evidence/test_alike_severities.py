"""Ranges of one fault's severity are looked at together: how bad a fault is runs on without steps."""

from __future__ import annotations

import numpy as np
from tests.small_board import small_board

from ohmwright.diagnosis import posterior_of
from ohmwright.evidence.tangent import KINDRED, NEGLIGIBLE_YET, WEAK, _akin, _change
from ohmwright.facts import EntryFact, Facts, Quantity, Reading


def test_the_like_of_a_likely_class_is_looked_at_however_bad_it_looks_from_afar() -> None:
    kin = np.array([0, 1, 1, 2, 2, 3])
    score = np.array([0.0, -1.0, -300.0, -KINDRED - 1.0, -2.0, -1.0])
    best, chosen = _akin(kin, score, {0, 1, 3}, np.ones(6, dtype=bool))
    assert np.flatnonzero(chosen).tolist() == [2]
    assert best[2] == score[1]


def test_every_class_that_changes_much_is_looked_at_roughly() -> None:
    """From afar an explanation may look tens of nats worse than it is, and then be the likeliest of all."""
    readings = (
        Reading(Quantity.OHMS, "V33", "GND", 8.4, key="e1"),
        Reading(Quantity.DIODE, "GND", "IO1", 0.31, key="e2"),
        Reading(Quantity.OHMS, "VSW", "GND", 5_200.0, key="e3"),
    )
    weighed = posterior_of(small_board(), Facts(readings=readings)).weighed
    score = weighed.joint.log_likelihood
    strong = np.flatnonzero(_change(weighed, int(weighed.class_of[0])) > WEAK)
    left = [c for c in strong.tolist() if c not in weighed.tangents]
    assert len(strong) > 50
    assert len(left) < len(strong) // 4
    assert all(score[c] < score.max() - NEGLIGIBLE_YET + 12.0 for c in left), "prior beliefs differ by less than that"


def test_like_classes_share_all_but_the_severity() -> None:
    reading = Reading(Quantity.DIODE, "GND", "V33", 0.16, key="e1")
    facts = Facts(readings=(reading,), entries=(EntryFact("VIN", 12.0, True, True, "e0"),))
    posterior = posterior_of(small_board(), facts)
    weighed = posterior.weighed
    spots: dict[int, set[tuple[tuple[str, ...], ...]]] = {}
    for c in range(len(weighed.codes)):
        defects = tuple(sorted(weighed.register.examples[n].electrical[:-1] for n in weighed.own(c)))
        spots.setdefault(int(weighed.kin[c]), set()).add(defects)
    assert all(len(found) == 1 for found in spots.values())
    on_rail = [k for k, found in spots.items() if found == {(("path", "GND", "V33"),)}]
    assert len(on_rail) == 1
    assert int((weighed.kin == on_rail[0]).sum()) >= 5
