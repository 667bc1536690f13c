"""Heat under a feed: the watts by Ohm's and Joule's laws, and what a finding says beside an earlier one."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.small_board import small_board

from ohmwright.circuit import Board, BoardState, Feed, Place
from ohmwright.evidence import Electrical, Roster, roster_of
from ohmwright.evidence.heating import DRAW, LEAST_AREA, heat_log_likelihood, warmth
from ohmwright.facts import Heat, HeatFinding
from ohmwright.faults import Hypothesis, hypotheses_of

LOW, FULL = Feed("V33", "GND", 0.8, 1.0), Feed("V33", "GND", 3.3, 0.5)


Sizes = tuple[tuple[str, tuple[float, float]], ...]


def put(board: Board, sizes: Sizes) -> Board:
    """Every part with a place of its own, a centimetre from the next."""
    size = dict(sizes)
    placed = [
        replace(part, place=Place(10.0 * (k % 6), 10.0 * (k // 6), "top", *size.get(part.name, (1.0, 1.0))))
        for k, part in enumerate(board.parts)
    ]
    return replace(board, parts=tuple(placed))


def paths(electrical: Electrical, *names: str) -> list[Hypothesis]:
    """Nothing wrong, then every path through the parts named, by part and ohms."""
    known = [h for h in hypotheses_of(electrical.board) if len(h.defects) == 1 and h.defects[0].severity is not None]
    found = [h for h in known if h.defects[0].part in names and h.defects[0].mode in ("short", "leak")]
    return [hypotheses_of(electrical.board)[0], *found]


def asked(*names: str, sizes: Sizes = ()) -> tuple[Electrical, Roster, list[Hypothesis]]:
    electrical = Electrical(put(small_board(), sizes))
    few = paths(electrical, *names)
    return electrical, roster_of(few, electrical.register), few


def ohms_of(hypothesis: Hypothesis) -> float:
    severity = hypothesis.defects[0].severity
    assert severity is not None
    return severity.median


def felt(feed: Feed, *parts: str, off: tuple[str, ...] = (), method: str = "camera") -> Heat:
    finding = HeatFinding.PART if parts else HeatFinding.NOTHING
    return Heat(finding, parts, 0.0, BoardState(off=frozenset(off)).with_feed(feed), method)


def test_watts_of_a_path_are_what_joule_says_at_the_volts_or_at_the_limit() -> None:
    """P = U²/R while the supply holds its volts, I²R at its limit, the leads' drop taken off. J. P. Joule, 1841."""
    electrical, roster, few = asked("C3")
    warm = warmth(electrical, felt(FULL), roster)
    for row, hypothesis in enumerate(few[1:], 1):
        ohms = ohms_of(hypothesis)
        amps = min(FULL.volts / (ohms + FULL.leads), FULL.limit)
        assert warm.extra[row, 0] == pytest.approx(amps**2 * ohms, rel=0.03)


def test_watts_at_other_ohms_are_those_that_other_ohms_would_have_had() -> None:
    electrical, roster, few = asked("C3")
    warm = warmth(electrical, felt(FULL), roster)
    medians = [ohms_of(h) for h in few[1:]]
    order = np.argsort(medians)
    for one, other in zip(order[:-1] + 1, order[1:] + 1, strict=True):
        for a, b in ((one, other), (other, one)):
            farther = np.zeros(warm.extra.shape)
            farther[a, 0] = math.log(medians[b - 1] / medians[a - 1])
            assert warm.at(farther)[a, 0] == pytest.approx(warm.extra[b, 0], rel=0.25)
            told = warm.known(farther / np.where(warm.spread > 0.0, warm.spread, 1.0), np.zeros(farther.shape))
            assert told.extra[a, 0] == pytest.approx(warm.at(farther)[a, 0])
            assert told.through[a, 0] * told.over[a, 0] == pytest.approx(told.extra[a, 0])


def test_what_leaks_a_hundred_ohms_is_found_at_the_volts_of_its_rail_and_not_at_a_low_feed() -> None:
    electrical, roster, few = asked("C3")
    leak = next(k for k, h in enumerate(few) if h.defects and 20.0 < ohms_of(h) < 200.0)
    for feed, found in ((LOW, False), (FULL, True)):
        nothing, named = warmth(electrical, felt(feed), roster).findings([felt(feed), felt(feed, "C3")])[leak]
        assert (named > nothing) == found


def test_of_several_feeds_of_a_rail_the_strongest_speaks_in_whatever_order_they_came() -> None:
    electrical, roster, _ = asked("C3", "C4")
    quiet, warm = felt(LOW), felt(FULL, "C3")
    alone = heat_log_likelihood(electrical, [warm], roster)
    assert heat_log_likelihood(electrical, [quiet, warm], roster) == pytest.approx(alone)
    assert heat_log_likelihood(electrical, [warm, quiet, warm], roster) == pytest.approx(alone)


def test_the_same_place_again_with_another_part_off_says_nothing_new_unless_that_part_was_it() -> None:
    electrical, roster, few = asked("C3", "C4")
    before = heat_log_likelihood(electrical, [felt(FULL, "C3")], roster)
    other = heat_log_likelihood(electrical, [felt(FULL, "C3"), felt(FULL, "C3", off=("C4",))], roster)
    at = [k for k, h in enumerate(few) if h.parts == ("C3",) and ohms_of(h) < 200.0]
    assert other[at] == pytest.approx(before[at])
    still = heat_log_likelihood(electrical, [felt(FULL, "C3"), felt(FULL, "C3", off=("C3",))], roster)
    assert (still[at] < before[at] - 2.0).all()


def test_a_chip_that_gets_its_volts_may_be_warm_and_accuses_nobody() -> None:
    """At 0.8 V no chip works; what a warm chip says of its being bad is less at the volts it works at."""
    electrical, roster, few = asked("U2")
    bad = [k for k, h in enumerate(few) if h.parts == ("U2",) and 5.0 < ohms_of(h) < 50.0]

    def says(feed: Feed) -> float:
        told = heat_log_likelihood(electrical, [felt(feed, "U2")], roster)
        return float(told[bad].max() - told[0])

    assert warmth(electrical, felt(LOW), roster).draw.max() == 0.0
    draw = warmth(electrical, felt(FULL), roster).draw[0]
    names = [p.name for p in electrical.board.parts]
    assert draw[names.index("U2")] == pytest.approx(3.3 * DRAW, rel=0.02)
    assert says(FULL) < says(LOW) - 0.5


def test_a_large_part_gets_less_warm_from_the_same_watts() -> None:
    """A disc of radius a on a half-space: R = 1/(4 k a), so the rise falls with the root of the area. Carslaw and
    Jaeger, Conduction of Heat in Solids, 2nd ed., section 8.2, from memory."""
    electrical, roster, _ = asked("C3", "C4", sizes=(("C3", (4.0, 4.0)),))
    rises = warmth(electrical, felt(FULL), roster).rise
    rise = dict(zip((p.name for p in electrical.board.parts), rises, strict=False))
    assert rise["C4"] / rise["C3"] == pytest.approx(math.sqrt(16.0 / LEAST_AREA))
