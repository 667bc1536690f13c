"""Which pads are one copper: held against a brute-force reckoning with plain sets, and by hand."""

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.boardmap.copper import Heard, Verdict, copper_of

PADS = [f"P{n}.1" for n in range(7)] + ["L1.1", "L1.2", "F1.1", "F1.2"]
CONDUCTORS = (("L1", "L1.1", "L1.2"), ("F1", "F1.1", "F1.2"))
WALLS = (("P", "P0.1", "P1.1"), ("Q", "P2.1", "L1.1"))
"""Parts that block: their pads are among the others here, so that beeps run into them."""
pairs = st.tuples(st.sampled_from(PADS), st.sampled_from(PADS)).filter(lambda ab: ab[0] != ab[1])
stories = st.lists(st.tuples(pairs, st.sampled_from("bbbbbse")), max_size=14).map(
    lambda said: [Heard(a, b, how != "s", n + 2, how == "e") for n, ((a, b), how) in enumerate(said)]
)
"""Beeps, silences, and what was joined by eye."""


def by_sets(heard):
    """The same question answered as slowly and plainly as can be: sets of pads, searched through each time."""
    coppers = [{pad} for pad in PADS]
    ends = {pad for _, p, q in CONDUCTORS for pad in (p, q)}
    verdicts = {one.sequence: Verdict.APART for one in heard if not one.beeps}

    def of(pad):
        return next(copper for copper in coppers if pad in copper)

    def shorted(one):
        """Pads of parts that beeped from end to end before."""
        ends = [(p, q) for _, p, q in WALLS]
        found = [
            h for h in heard if h.beeps and not h.seen and {h.a, h.b} in map(set, ends) and h.sequence < one.sequence
        ]
        return {pad for h in found for pad in (h.a, h.b)}

    def reach(pad):
        found, grown = {pad}, True
        while grown:
            more = set().union(*(of(p) for p in found))
            more |= {q for _, a, b in CONDUCTORS for p, q in ((a, b), (b, a)) if p in more}
            grown = more != found
            found = more
        return found

    for one in sorted((h for h in heard if h.beeps), key=lambda h: (not h.seen, not {h.a, h.b} & ends, h.sequence)):
        here, there = of(one.a), of(one.b)
        forbidding = [(h.a, h.b) for h in heard if not h.beeps and h.sequence < one.sequence]
        forbidding += [(p, q) for _, p, q in WALLS]
        silent = [1 for a, b in forbidding if (a in here and b in there) or (b in here and a in there)]
        if here is there:
            verdicts[one.sequence] = Verdict.COPPER
        elif one.b in reach(one.a):
            verdicts[one.sequence] = Verdict.THROUGH
        elif silent:
            verdicts[one.sequence] = Verdict.HELD
        elif not one.seen and (at := shorted(one)) and not any(
            (h.a in here | there and of(h.b) in map(of, at)) or (h.b in here | there and of(h.a) in map(of, at))
            for h in heard if not h.beeps
        ):  # fmt: skip
            verdicts[one.sequence] = Verdict.DOUBTFUL
        else:
            verdicts[one.sequence] = Verdict.COPPER
            coppers.remove(there)
            here |= there
    return verdicts, of, reach


@settings(max_examples=100, deadline=None)
@given(stories)
def test_coppers_are_those_that_plain_sets_give(heard):
    found = copper_of(heard, CONDUCTORS, WALLS)
    verdicts, of, reach = by_sets(heard)
    assert dict(found.verdicts) == verdicts
    for a, b in combinations(PADS, 2):
        assert found.same_copper(a, b) == (b in of(a))
        assert (found.conducting_path(a, b) is not None) == (b in reach(a))
    for pad in PADS:
        assert set(found.pads_with(pad)) == of(pad)
        assert {other for other, _ in found.same_at_dc(pad)} == reach(pad) - of(pad)


@settings(max_examples=100, deadline=None)
@given(stories)
def test_one_at_a_time_is_the_same_as_all_at_once(heard):
    grown = copper_of((), CONDUCTORS, WALLS)
    for n, one in enumerate(heard):
        grown = grown.with_heard(one)
        whole = copper_of(heard[: n + 1], CONDUCTORS, WALLS)
        assert grown == whole
        assert all(set(grown.pads_with(pad)) == set(whole.pads_with(pad)) for pad in PADS)


@settings(max_examples=100, deadline=None)
@given(stories)
def test_reasons_hold_and_cures_cure(heard):
    found = copper_of(heard, CONDUCTORS, WALLS)
    by_key = {one.sequence: one for one in heard}
    for a, b in combinations(PADS, 2):
        path = found.holding(a, b)
        assert (path is not None) == found.same_copper(a, b)
        here = a
        for key in path or ():
            one = by_key[key]
            assert one.beeps
            here = one.b if here == one.a else one.a
        assert path is None or here == b
    told = found.disagreements()
    silent = {h.sequence for h in heard if not h.beeps and found.conducting_path(h.a, h.b) is not None}
    held = {key for key, verdict in found.verdicts.items() if verdict is Verdict.HELD}
    assert {d.entries[-1] for d in told} >= held
    assert len(told) == len(held) + len(silent)
    for d in told:
        assert set(d.entries) | set(d.others) >= set(d.cures)
        for key in d.cures:
            left = copper_of([h for h in heard if h.sequence != key], CONDUCTORS, WALLS)
            assert not any(set(e.entries) == set(d.entries) for e in left.disagreements())


@settings(max_examples=100, deadline=None)
@given(stories, st.lists(st.sampled_from([*CONDUCTORS, *WALLS]), unique=True))
def test_parts_told_later_are_as_if_told_at_first(heard, some):
    first = tuple(one for one in CONDUCTORS if one in some), tuple(one for one in WALLS if one in some)
    later = copper_of(heard, *first).with_barriers(CONDUCTORS, WALLS)
    whole = copper_of(heard, CONDUCTORS, WALLS)
    assert later == whole
    assert all(set(later.pads_with(pad)) == set(whole.pads_with(pad)) for pad in PADS)


@settings(max_examples=100, deadline=None)
@given(stories, st.data())
def test_taking_one_back_is_as_if_it_was_never_heard(heard, data):
    """No silence is broken, whatever is taken back; and what no reading holds together falls apart."""
    gone = data.draw(st.sampled_from(heard)) if heard else None
    left = copper_of([h for h in heard if h is not gone], CONDUCTORS, WALLS)
    verdicts, of, _ = by_sets([h for h in heard if h is not gone])
    assert dict(left.verdicts) == verdicts
    for pad in PADS:
        assert set(left.pads_with(pad)) == of(pad)


def test_a_beep_through_a_coil_joins_nothing_in_whatever_order():
    story = [("C1.1", "C2.1"), ("L1.1", "C1.1"), ("L1.2", "C2.1")]
    for order in ([0, 1, 2], [1, 2, 0], [2, 1, 0], [1, 0, 2]):
        heard = [Heard(*story[i], True, n + 2) for n, i in enumerate(order)]
        found = copper_of(heard, CONDUCTORS[:1])
        assert not found.same_copper("C1.1", "C2.1")
        assert found.verdicts[order.index(0) + 2] is Verdict.THROUGH
        assert found.same_at_dc("C1.1") == (("L1.2", ("L1",)), ("C2.1", ("L1",))) or {
            pad for pad, _ in found.same_at_dc("C1.1")
        } == {"L1.2", "C2.1"}


def test_the_two_that_disagree_are_named_with_what_ties_them():
    heard = [Heard("A.1", "B.1", True, 2), Heard("A.1", "C.1", False, 3), Heard("B.1", "C.1", True, 4)]
    (told,) = copper_of(heard).disagreements()
    assert told.entries == (3, 4)
    assert told.others == (2,)
    assert told.cures == (2, 3, 4)
    later = [Heard("A.1", "B.1", True, 2), Heard("B.1", "C.1", True, 3), Heard("A.1", "C.1", False, 4)]
    (told,) = copper_of(later).disagreements()
    assert told.entries == (3, 4)
    assert copper_of(later).same_copper("A.1", "C.1")  # what came first stands


def test_a_second_way_round_leaves_only_the_silence_to_doubt():
    heard = [
        Heard("A.1", "B.1", True, 2), Heard("B.1", "C.1", True, 3), Heard("A.1", "D.1", True, 4),
        Heard("D.1", "C.1", True, 5), Heard("A.1", "C.1", False, 6),
    ]  # fmt: skip
    (told,) = copper_of(heard).disagreements()
    assert told.cures == (6,)


def test_a_silent_coil_may_be_open():
    heard = [Heard("L1.1", "C1.1", True, 2), Heard("L1.2", "C2.1", True, 3), Heard("C1.1", "C2.1", False, 4)]
    (told,) = copper_of(heard, CONDUCTORS).disagreements()
    assert told.through == ("L1",)
    assert told.entries == (4,)


def test_a_beep_across_a_capacitor_is_a_fault_and_no_copper():
    """A rail that is short to ground beeps with it: neither net swallows the other."""
    heard = [Heard("C1.2", "GND", True, 2), Heard("C1.1", "U1.1", True, 3), Heard("U1.1", "GND", True, 4)]
    found = copper_of(heard, (), (("C1", "C1.1", "C1.2"),))
    assert not found.same_copper("C1.1", "GND")
    (told,) = found.disagreements()
    assert (told.across, told.entries) == ("C1", (4,))
    assert 2 in told.cures


def test_once_a_capacitor_beeps_across_only_what_is_silent_against_it_is_believed():
    """C1's rail is short to ground, so its two ends, ground and all behind the coil beep with each other."""
    walls = (("C1", "C1.1", "C1.2"), ("C2", "C2.1", "C2.2"))
    short = Heard("C1.1", "C1.2", True, 2)
    doubtful = copper_of([short, Heard("C2.2", "C1.1", True, 3)], (), walls)
    assert doubtful.verdicts[3] is Verdict.DOUBTFUL
    away = [short, Heard("R1.1", "C1.1", False, 3), Heard("R1.1", "U1.5", True, 4)]
    assert copper_of(away, (), walls).same_copper("R1.1", "U1.5")
    seen = copper_of([short, Heard("C2.2", "C1.2", True, 3, seen=True)], (), walls)
    assert seen.same_copper("C2.2", "C1.2")
    before = copper_of([Heard("C2.2", "C1.2", True, 1), short], (), walls)
    assert before.same_copper("C2.2", "C1.2")  # what stood before stays, until somebody takes it back
