"""Covariances of classes beside the first one, against the product written out over every unknown there is."""

from __future__ import annotations

import numpy as np
from tests.small_board import small_board

from ohmwright.diagnosis.posterior import posterior_of
from ohmwright.evidence.beside import covariances_beside
from ohmwright.facts import Facts, Quantity, Reading


def test_against_the_product_written_out() -> None:
    readings = (
        Reading(Quantity.DIODE, "GND", "V33", 0.41, key="e1"),
        Reading(Quantity.OHMS, "VF", "GND", 9_000.0, key="e2"),
        Reading(Quantity.OHMS, "V33", "GND", 38.0, key="e3"),
        Reading(Quantity.OHMS, "VIN", "VF", 0.1, key="e4"),
    )
    weighed = posterior_of(small_board(), Facts(readings=readings)).weighed
    luck = np.random.default_rng(5)
    tail, n, classes = weighed.tail, len(readings), len(weighed.codes)
    lean = luck.normal(size=(n, tail))
    weak = luck.random((n, classes)) < 0.6
    out = np.zeros((classes, n, n))
    covariances_beside(lean, weighed.shelves, weighed.rows, weak, out)
    for c in range(classes):
        whole = np.zeros((n, tail + len(weighed.register.examples)))
        for k, shelf in enumerate(weighed.shelves):
            if weak[k, c]:
                whole[k, :tail] = lean[k]
            else:
                whole[k, shelf.support] = shelf.lean[weighed.rows[c, k]]
        np.testing.assert_allclose(out[c], whole @ whole.T, rtol=1e-5, atol=1e-9)
    assert weak.any(axis=0).sum() > 10
    assert (~weak).sum(axis=0).max() > 1
