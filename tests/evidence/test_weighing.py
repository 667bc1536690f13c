"""All hypotheses at once: codes, strays, and what must not change the answer."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal
from tests.small_board import ENTRY, small_board

from ohmwright.circuit import Board, BoardState
from ohmwright.diagnosis import diagnose
from ohmwright.diagnosis import posterior as kept
from ohmwright.evidence import Electrical, Stack, joint, roster_of
from ohmwright.evidence.strays import AGAIN
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.faults import active_defects, hypotheses_of

READ = (
    Reading(Quantity.DIODE, "GND", "V33", 0.41, key="e1"),
    Reading(Quantity.OHMS, "VF", "GND", 9_000.0, key="e2"),
    Reading(Quantity.OHMS, "V33", "GND", 38.0, key="e3"),
    Reading(Quantity.OHMS, "VIN", "VF", 0.1, key="e4"),
)


def shares(board: Board, readings: tuple[Reading, ...]) -> dict[str, float]:
    posterior, _ = diagnose(board, Facts(readings=readings, entries=ENTRY))
    out: dict[str, float] = {}
    for hypothesis, p in zip(posterior.hypotheses, posterior.probabilities.tolist(), strict=True):
        name = " + ".join(sorted(d.key for d in hypothesis.defects))
        out[name] = out.get(name, 0.0) + p
    return out


def assert_alike(one: dict[str, float], other: dict[str, float], within: float) -> None:
    assert max(abs(one.get(name, 0.0) - other.get(name, 0.0)) for name in one.keys() | other.keys()) < within


def test_the_order_of_readings_does_not_matter() -> None:
    """To a thousandth: where a class stands still, and which stray goes first, are decided by thresholds."""
    first = shares(small_board(), READ)
    for order in ((3, 2, 1, 0), (1, 3, 0, 2)):
        assert_alike(first, shares(small_board(), tuple(READ[k] for k in order)), 1e-3)


def test_what_was_kept_from_earlier_questions_changes_nothing() -> None:
    """Step by step with everything kept, against all at once from nothing."""
    for n in range(1, len(READ) + 1):
        grown = shares(small_board(), READ[:n])
    kept._electrical.cache_clear()
    assert_alike(grown, shares(small_board(), READ), 1e-4)


def test_names_and_the_order_of_parts_do_not_matter() -> None:
    board = small_board()
    turned = replace(board, parts=tuple(reversed(board.parts)))
    assert_alike(shares(board, READ), shares(turned, READ), 2e-3)


def test_codes_follow_what_is_still_on_the_board() -> None:
    """The arrays against the plain rule, one hypothesis at a time."""
    board = small_board()
    electrical = Electrical(board)
    roster = roster_of(hypotheses_of(board), electrical.register)
    state = BoardState(
        off=frozenset({"C3"}), replaced=frozenset({"U2"}), cleaned=frozenset({"L1", "V33"}),
        refitted=frozenset({"F1", "U1"}),
    )  # fmt: skip
    there = roster.still_there(state)
    for h, hypothesis in enumerate(roster.hypotheses):
        left = active_defects(hypothesis, state)
        assert [roster.defects[d] for d in roster.slots[h] if d >= 0 and there[d]] == list(left)


def test_a_defect_that_is_not_felt_makes_the_sound_circuit() -> None:
    """Predictions with what is left out, against the same circuits solved whole."""
    board = small_board()
    electrical = Electrical(board)
    roster = roster_of(hypotheses_of(board), electrical.register)
    line = electrical.line(READ[0])
    shelf = electrical.shelf(line)
    codes = electrical.codes([line], [shelf], roster)[0]
    # one that conducts one way only, driven the other way, is solved whole as if it conducted both
    plain = [h for h in np.flatnonzero(codes == 0).tolist() if not any(d.one_way for d in roster.hypotheses[h].defects)]
    left_out = [h for h in plain if roster.hypotheses[h].defects]
    assert len(left_out) > 20
    columns = [electrical.column(line, roster.hypotheses[h].defects) for h in left_out]
    whole = line.forward.predict(line.probe, columns).y
    assert whole == pytest.approx(np.full(len(whole), shelf.y[shelf.row_of[0]]), abs=1e-3)


def test_two_strays_are_named_and_weighed_as_the_mixture_they_are() -> None:
    """Against the sum over all sets of strays, each a product of flat densities and a multivariate normal."""
    rng = np.random.default_rng(11)
    n, lean = 6, rng.normal(size=(6, 2))
    covariance, noise, width, share = lean @ lean.T, 0.05, 10.0, 0.02
    y = rng.multivariate_normal(np.zeros(n), covariance + noise**2 * np.eye(n))
    y[1] += 4.0
    y[4] -= 5.0
    stack = Stack(
        y,
        np.zeros(n, dtype=bool),
        np.full(n, 50.0),
        np.full(n, noise),
        np.full(n, share),
        np.full(n, width),
        np.zeros((n, n), dtype=bool),
        np.full((n, n), -np.inf),
        np.zeros((n, 1)),
        covariance[None],
    )
    found = joint(stack)
    assert found.stray[[1, 4], 0].min() > 0.99
    assert found.stray[[0, 2, 3, 5], 0].max() < 0.2
    total = -np.inf
    for strays in itertools.chain.from_iterable(itertools.combinations(range(n), k) for k in range(n)):
        rest = [k for k in range(n) if k not in strays]
        inner = covariance[np.ix_(rest, rest)] + noise**2 * np.eye(len(rest))
        term = len(strays) * np.log(share / width) + len(rest) * np.log(1.0 - share)
        total = np.logaddexp(total, term + multivariate_normal(np.zeros(len(rest)), inner).logpdf(y[rest]))
    assert found.log_likelihood[0] == pytest.approx(total, abs=0.25)


def test_a_wrong_map_is_paid_for_once_at_each_place() -> None:
    """Two readings of one place, both far off: the second costs its density there, not the odds of a stray again."""
    n, width, share = 4, 10.0, 0.05
    again = np.full((n, n), -np.inf)
    again[2, 3] = again[3, 2] = np.log(0.4 / width)

    def told(again: np.ndarray, twin: np.ndarray) -> float:
        parts = np.zeros(n, dtype=bool), np.full(n, 50.0), np.full(n, 0.05), np.full(n, share), np.full(n, width)
        stack = Stack(np.array([0.0, 0.0, 5.0, 7.0]), *parts, twin, again, np.zeros((n, 1)), np.zeros((1, n, n)))
        found = joint(stack)
        assert found.stray[2:, 0].min() > 0.99
        return float(found.log_likelihood[0])

    none, apart = np.zeros((n, n), dtype=bool), np.full((n, n), -np.inf)
    odds = np.log(share / (1.0 - share) / width)
    assert told(again, none) - told(apart, none) == pytest.approx(np.log(0.4 / width) - odds, abs=1e-9)
    twin = np.isfinite(again)
    assert told(apart, twin) - told(apart, none) == pytest.approx(AGAIN - odds, abs=1e-9)


def test_readings_that_bear_each_other_out_are_left_out_together() -> None:
    """Three alike far off: neither is a stray beside the others, all are; against the sum over all sets of strays."""
    n, width, share, noise = 5, 12.0, 0.04, 0.05
    covariance = 0.3 * np.eye(n)
    covariance[np.ix_([2, 3, 4], [2, 3, 4])] = 0.5
    twin = np.zeros((n, n))
    for a, b in itertools.permutations([2, 3, 4], 2):
        twin[a, b] = 1.0
    y = np.array([0.2, -0.3, 8.0, 8.02, 7.99])
    stack = Stack(
        y, np.zeros(n, dtype=bool), np.full(n, 50.0), np.full(n, noise), np.full(n, share), np.full(n, width),
        twin, np.full((n, n), -np.inf), np.zeros((n, 1)), covariance[None],
    )  # fmt: skip
    found = joint(stack)
    assert found.stray[2:, 0].min() > 0.99
    assert found.stray[:2, 0].max() < 0.2
    total = -np.inf
    for strays in itertools.chain.from_iterable(itertools.combinations(range(n), k) for k in range(n)):
        rest = [k for k in range(n) if k not in strays]
        inner = covariance[np.ix_(rest, rest)] + noise**2 * np.eye(len(rest))
        again = max(len(set(strays) & {2, 3, 4}) - 1, 0)
        term = (len(strays) - again) * np.log(share / width) + again * (AGAIN + np.log(1.0 - share))
        term += len(rest) * np.log(1.0 - share)
        total = np.logaddexp(total, term + multivariate_normal(np.zeros(len(rest)), inner).logpdf(y[rest]))
    assert found.log_likelihood[0] == pytest.approx(total, abs=0.25)
