"""What a trace does to the belief: rows that sum to one, suspects moved the right way, repeats not counted twice."""

from dataclasses import replace

import numpy as np
import pytest

from ohmwright.circuit import BoardState, Feed
from ohmwright.diagnosis import diagnose
from ohmwright.evidence.current_trace import USUAL, Place
from ohmwright.facts import EntryFact, Facts
from ohmwright.facts.trace import Behaviour, TraceSeen
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards

BOARD = read_board_json(boards()["logger"])
FED = BoardState().with_feed(Feed("V5IN", "GND", 5.0, 1.0))
PLAIN = Facts(entries=(EntryFact("V5IN", 5.0, True, True),))


def belief(*behaviours: Behaviour) -> dict[str, float]:
    traces = tuple(TraceSeen(b, 1.0, state=FED, key=f"e{k}") for k, b in enumerate(behaviours))
    posterior, _ = diagnose(BOARD, replace(PLAIN, traces=traces))
    sums = {"none": 0.0, "path": 0.0, "open at entry": 0.0}
    for hypothesis, p in zip(posterior.hypotheses, posterior.probabilities.tolist(), strict=True):
        if not hypothesis.faults:
            sums["none"] += p
        elif any(d.kind.value == "path" and "V5IN" in d.nets for d in hypothesis.faults):
            sums["path"] += p
        elif any(d.kind.value == "open" and set(d.nets) == {"V5IN", "V5F"} for d in hypothesis.faults):
            sums["open at entry"] += p
    return sums


def test_the_table_is_a_distribution_for_each_place():
    assert np.sum(list(USUAL.values()), axis=0) == pytest.approx(np.ones(len(Place)))
    assert set(USUAL) == set(Behaviour)


def test_a_short_speaks_for_a_path_at_the_feed_nothing_for_an_open_way_in_and_life_for_no_fault():
    before = belief()
    assert belief(Behaviour.SHORT)["path"] > 3 * before["path"]
    assert belief(Behaviour.NOTHING)["open at entry"] > 3 * before["open at entry"]
    assert belief(Behaviour.RUNS)["none"] > before["none"]


def test_a_second_trace_of_the_same_feed_adds_nothing():
    assert belief(Behaviour.SHORT, Behaviour.SHORT) == belief(Behaviour.SHORT)


def test_what_fits_no_stage_shifts_nothing_and_stands_in_nobody_s_way():
    """A rail fed away from the entry has no stages to reach: such a trace is kept, and tells nothing."""
    assert belief(Behaviour.OTHER) == belief()
    assert belief(Behaviour.OTHER, Behaviour.SHORT) == belief(Behaviour.SHORT)
