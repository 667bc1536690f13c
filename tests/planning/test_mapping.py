"""What to buzz next: measured as how soon a map is complete beside buzzing in the order of the parts."""

import math

import pytest

from ohmwright.boardmap.copper import Heard, copper_of
from ohmwright.casebook.hearing import blocks, conducts
from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.diagnosis.answer import Diagnosis, Suspect
from ohmwright.formats.board_json import read_board_json
from ohmwright.planning.advice import Advice, Step, Test, TestKind
from ohmwright.planning.mapping import FIND_GROUND, joins_to_try, with_mapping
from ohmwright.practice.choice import boards


def rail():
    """The parts of one rail of a practice board, their nets hidden; and which net each pad is on."""
    board = read_board_json(boards()["logger"])
    names = {"U4", "L4", "C18", "C19", "C17", "R491", "R492", "C490"}
    parts = tuple(part for part in board.parts if part.name in names)
    truth = {f"{p.name}.{q.number}": q.net for p in parts for q in p.pins}
    bare = tuple(
        Part(p.name, p.kind, tuple(Pin(q.number, None, q.role, q.name) for q in p.pins), place=p.place) for p in parts
    )
    return Board("rail", board.ground, (Net(board.ground),), bare, unmapped_share=0.5), truth


def mapped(board, truth, heard):
    """The board as far as what was heard says."""
    ends = [(p.name, *(f"{p.name}.{q.number}" for q in p.pins)) for p in board.parts if len(p.pins) == 2]
    through = tuple(e for e, p in zip(ends, (p for p in board.parts if len(p.pins) == 2), strict=True) if conducts(p))
    walls = tuple(e for e, p in zip(ends, (p for p in board.parts if len(p.pins) == 2), strict=True) if blocks(p))
    copper = copper_of(heard, through, walls)
    nets, parts = {}, []
    for part in board.parts:
        pins = []
        for pin in part.pins:
            pads = copper.pads_with(f"{part.name}.{pin.number}")
            net = board.ground if board.ground in pads else f"the {min(pads)} net" if len(pads) > 1 else None
            nets[net] = True
            pins.append(Pin(pin.number, net, pin.role, pin.name))
        parts.append(Part(part.name, part.kind, tuple(pins), place=part.place))
    names = [net for net in nets if net and net != board.ground]
    return Board("rail", board.ground, (Net(board.ground), *map(Net, names)), tuple(parts)), copper


def unknown(board, truth):
    """Pairs of pads of one net that the map does not hold together yet."""
    pads = {f"{p.name}.{q.number}": q.net for p in board.parts for q in p.pins}
    return sum(
        1 for a in truth for b in truth
        if a < b and truth[a] is not None and truth[a] == truth[b] and (pads[a] is None or pads[a] != pads[b])
    )  # fmt: skip


def buzzed(advised, most=60):
    """How many joins are still missing after each buzz, following the advice or going by the list."""
    bare, truth = rail()
    heard, left = [], []
    queue = [(a, b) for a in sorted(truth) for b in (bare.ground, *sorted(truth)) if a < b or b == bare.ground]
    for n in range(most):
        board, copper = mapped(bare, truth, heard)
        left.append(unknown(board, truth))
        if advised:
            joins = joins_to_try(board, copper)
            if not joins:
                break
            a, b = joins[0].pad, joins[0].other
        else:
            a, b = next(
                (a, b) for a, b in queue
                if not copper.same_copper(a, b) and not any({h.a, h.b} == {a, b} for h in heard)
            )  # fmt: skip
        net = {a: truth.get(a), b: truth.get(b, bare.ground)}
        heard.append(Heard(a, b, net[a] is not None and net[a] == net[b], n + 2))
    return left


def test_following_the_advice_maps_a_rail_sooner():
    advised, listed = buzzed(advised=True), buzzed(advised=False)
    half = advised[0] / 2
    soon = next(n for n, left in enumerate(advised) if left <= half)
    late = next((n for n, left in enumerate(listed) if left <= half), len(listed))
    print(
        f"half of the joins known after {soon} buzzes by advice, {late} by the list; left {advised[-1]}, {listed[-1]}"
    )
    assert soon <= 0.75 * late
    assert sum(advised) < sum(listed[: len(advised)])


def test_nothing_is_asked_twice():
    bare, truth = rail()
    heard = []
    for n in range(40):
        board, copper = mapped(bare, truth, heard)
        joins = joins_to_try(board, copper)
        if not joins:
            break
        join = joins[0]
        assert not any({h.a, h.b} == {join.pad, join.other} for h in heard)
        assert not copper.same_copper(join.pad, join.other)
        assert 0.0 <= join.chance <= 1.0
        assert math.isclose(join.bits, joins[0].bits)
        heard.append(Heard(join.pad, join.other, truth[join.pad] == truth.get(join.other, bare.ground), n + 2))


def test_ground_is_found_first():
    bare, truth = rail()
    first = joins_to_try(*mapped(bare, truth, []))[0]
    assert first.other == bare.ground
    assert truth[first.pad] == bare.ground
    assert first.why == FIND_GROUND


def suspect(part, where, p):
    return Suspect(f"{part}:short", part, "short", where, f"{part} shorted", p)


def test_suspicion_draws_the_probe():
    bare, truth = rail()
    heard = [Heard("U4.3", bare.ground, True, 2)]
    board, copper = mapped(bare, truth, heard)
    for part in ("C18", "C17"):
        told = Diagnosis((suspect(part, (f"{part}.1", f"{part}.2"), 0.5),), (), ())
        assert joins_to_try(board, copper, told)[0].pad.startswith(f"{part}.")


def test_mapping_goes_first_only_where_it_tells_more():
    bare, truth = rail()
    board, copper = mapped(bare, truth, [Heard("U4.3", bare.ground, True, 2)])
    told = Diagnosis((suspect("C18", ("C18.1", "C18.2"), 0.5), suspect("C17", ("C17.1", "C17.2"), 0.4)), (), ())
    strong = Test(TestKind.OHMS, "read", "", (Step("read"),), 0.4, 0.0, 1.0, 1.0)
    weak = Test(TestKind.OHMS, "read", "", (Step("read"),), 5.0, 0.0, 0.05, 0.1)
    assert with_mapping(Advice((strong,)), board, copper, told, ()).tests[0] is strong
    shown = with_mapping(Advice((weak,)), board, copper, told, ())
    assert shown.tests[0].kind is TestKind.MAP
    assert shown.tests[1] is weak
    skipped = with_mapping(Advice((weak,)), board, copper, told, (shown.tests[0].title,))
    assert shown.tests[0].title not in [test.title for test in skipped.tests]
    gate = Test(TestKind.GATE, "label", "", (), 1.0, 0.0, 0.0, 0.0, gate=True)
    assert with_mapping(Advice((gate,)), board, copper, told, ()).tests[0] is gate


def test_where_nothing_is_left_to_try_mapping_is():
    bare, truth = rail()
    board, copper = mapped(bare, truth, [Heard("U4.3", bare.ground, True, 2)])
    told = Diagnosis((suspect("C18", ("C18.1", "C18.2"), 0.5),), (), ())
    stuck = with_mapping(Advice((), "not decidable", "map more"), board, copper, told, ())
    assert not stuck.stop
    assert stuck.tests[0].kind is TestKind.MAP
    proven = Advice((), "proven")
    assert with_mapping(proven, board, copper, told, ()) is proven
    sure = Diagnosis((suspect("C18", ("C18.1", "C18.2"), 0.9),), (), ())
    assert with_mapping(Advice(()), board, copper, sure, ()).tests == ()


@pytest.mark.parametrize("parts", [0, 1])
def test_an_empty_map_asks_nothing_wild(parts):
    board = Board("x", "GND", (Net("GND"),), (Part("C1", "capacitor", (Pin("1"), Pin("2"))),)[:parts])
    assert len(joins_to_try(board, copper_of(()))) <= 2
