"""What the generator promises: whole boards, fair maps, the same words the same board in every process."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from judge.boards import PLANS, board_of
from judge.cases import FAMILIES, exams
from judge.faults import RECIPES
from judge.imported import DEMOS, world_of_file
from judge.maps import hidden_parts, map_of
from judge.world import World

from ohmwright.devices import KINDS

ROOT = Path(__file__).resolve().parents[2]
GENERATED = sorted(PLANS)


def _worlds() -> list[World]:
    return [board_of(family, f"g{k}", (15, 200)) for family in GENERATED for k in range(3)]


def test_every_part_is_joined_and_every_net_has_a_part() -> None:
    for board in _worlds():
        for part in board.parts:
            assert len(part.nets) >= 2 or part.kind == "connector", (board.name, part.name)
            assert part.kind in KINDS
            numbers = [pin.number for pin in part.pins]
            assert len(numbers) == len(set(numbers)), (board.name, part.name, numbers)
            told = {c.a for c in part.conductors} | {c.b for c in part.conductors}
            assert told <= set(numbers)
        touched = Counter(net for part in board.parts for net in part.nets)
        assert set(touched) == set(board.net)


def test_no_two_parts_lie_on_each_other() -> None:
    board = board_of("tablet", "places", (15, 120))
    parts = board.parts
    for k, one in enumerate(parts):
        for other in parts[:k]:
            a, b = one.place, other.place
            if a.side != b.side:
                continue
            sizes = [(p.height_mm, p.width_mm) if p.angle_deg % 180 else (p.width_mm, p.height_mm) for p in (a, b)]
            apart = (
                abs(a.x_mm - b.x_mm) >= (sizes[0][0] + sizes[1][0]) / 2 - 0.1
                or abs(a.y_mm - b.y_mm) >= (sizes[0][1] + sizes[1][1]) / 2 - 0.1
            )
            assert apart, (one.name, other.name)


def test_ratings_leave_room_above_what_each_net_works_at() -> None:
    for board in _worlds():
        for net in board.nets:
            if net.nominal:
                assert net.rating > 1.15 * net.nominal
        for part in board.parts:
            if part.stands is not None:
                assert all(board.net[n].rating <= part.stands for n in part.nets if n != board.ground)


@pytest.mark.parametrize("family", GENERATED)
def test_sizes_reach_from_small_to_large(family: str) -> None:
    sizes = [len(board_of(family, f"s{k}", (15, 500)).nets) for k in range(7)]
    assert min(sizes) < 200
    assert max(sizes) <= 540
    if family != "sensor-node":
        assert max(sizes) > 150


def test_core_rails_are_low_in_ohms_and_named_as_such() -> None:
    board = board_of("healthy-core", "core", (55, 90))
    cores = [net for net in board.nets if net.core]
    assert cores
    for net in cores:
        siemens = sum(
            1.0 / c.size
            for part in board.parts
            for c in part.conductors
            if c.kind == "R" and {part.pin(c.a).net, part.pin(c.b).net} == {net.name, board.ground}
        )
        assert 0.3 < 1.0 / siemens < 60.0


@pytest.mark.parametrize("share", [0.0, 0.12, 0.40, 0.70])
def test_the_map_leaves_out_the_hidden_share_and_nothing_leaks_through_it(share: float) -> None:
    board = board_of("notebook", "map", (60, 120))
    hidden = hidden_parts(board, share, "map")
    assert len(hidden) == round(share * len(board.parts))
    shown = map_of(board, hidden, share, "map")
    assert {part.name for part in shown.parts} == set(board.part) - hidden
    assert set(shown.entries) == set(board.entries)
    for part in shown.parts:
        true = board.part[part.name]
        assert [(pin.number, pin.net) for pin in part.pins] == [(pin.number, pin.net) for pin in true.pins]
        assert part.kind in KINDS
    for net in shown.nets:
        assert net.name in board.net
        assert net.rated is None or net.rated <= board.net[net.name].rating
        missing = sum(1 for p, _ in board.pads[net.name] if p.name in hidden)
        assert net.unexplained_pads <= missing
    assert abs(shown.unmapped_share - max(share, 0.02)) < 0.25


@pytest.mark.parametrize("recipe", sorted(RECIPES))
def test_every_recipe_makes_faults_that_fit_the_board(recipe: str) -> None:
    exam = next(exams("notebook", 1, "fit", nets=(140, 160), fault=recipe))
    assert exam.case.tag("fault") == recipe
    assert (len(exam.case.faults) == 0) == (recipe == "none")
    for fault in exam.case.faults:
        part = exam.case.world.part[fault.part]
        assert part.pin(fault.a).net is not None
        assert part.pin(fault.b).net is not None
        if fault.kind in ("drift", "reversed") or (fault.kind == "open" and fault.label != "drive"):
            assert fault.label in {c.label for c in part.conductors}
    if recipe in ("two on one rail", "two rails", "masked", "witness"):
        assert len(exam.case.culprits) == 2


def test_shares_of_the_recipes_are_roughly_those_asked_for() -> None:
    drawn = Counter(exam.case.tag("fault") for exam in exams("sensor-node", 150, "shares", nets=(30, 60)))
    total = sum(weight for _, weight in RECIPES.values())
    hard = RECIPES["hard short"][1] / total
    # Five standard deviations of a binomial share.
    assert abs(drawn["hard short"] / 150 - hard) < 5.0 * (hard * (1 - hard) / 150) ** 0.5
    assert len(drawn) > 12


def test_half_of_the_healthy_core_boards_are_well() -> None:
    well = sum(not exam.case.faults for exam in exams("healthy-core", 40, "well", nets=(55, 60)))
    assert 5 <= well <= 25  # 0.38 of 40 expected: three standard deviations are 9


PRINT = """
import hashlib
from judge.cases import exams
for family in ("tablet", "imported"):
    for exam in exams(family, 2, "same", nets=(15, 90), files={files!r}):
        text = repr((exam.board, exam.case.world, exam.case.faults, sorted(exam.case.hidden), exam.case.tags))
        print(hashlib.sha256(text.encode()).hexdigest())
"""


def test_the_same_words_give_the_same_questions_in_every_process() -> None:
    files = tuple(str(p) for p in sorted(DEMOS.rglob("StickHub.kicad_pcb")))
    if not files:
        pytest.fail("the package kicad-demos is missing")
    answers = [
        subprocess.run(
            [sys.executable, "-c", PRINT.format(files=files)],
            cwd=ROOT,
            env={"PYTHONPATH": f"{ROOT / 'src'}:{ROOT}", "PYTHONHASHSEED": hash_seed, "PATH": "/usr/bin:/bin"},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for hash_seed in ("1", "2")
    ]
    assert answers[0] == answers[1]
    assert len(set(answers[0].split())) == 4


def test_other_words_give_other_questions() -> None:
    one, other = (next(exams("tablet", 1, seed, nets=(42, 60))) for seed in ("a", "b"))
    assert one.case.world != other.case.world


def test_a_real_board_keeps_its_pads_and_gets_insides_of_its_own() -> None:
    path = next(iter(sorted(DEMOS.rglob("StickHub.kicad_pcb"))), None)
    if path is None:
        pytest.fail("the package kicad-demos is missing")
    board, again, other = (world_of_file(str(path), seed) for seed in ("1", "1", "2"))
    assert board == again
    assert board.parts != other.parts
    assert board.entries
    assert sum(bool(part.conductors) for part in board.parts) > 0.6 * len(board.parts)


def test_the_families_are_those_promised() -> None:
    assert set(FAMILIES) == {*PLANS, "imported"}


def test_the_map_of_a_file_is_what_the_program_reads_in_it() -> None:
    exam = next(exams("imported", 1, "file", hiding=0.4))
    true = exam.case.world
    assert {part.name for part in exam.board.parts} == set(true.part) - exam.case.hidden
    for part in exam.board.parts:
        assert [(pin.number, pin.net) for pin in part.pins] == [(p.number, p.net) for p in true.part[part.name].pins]
    missing = sum(1 for name in exam.case.hidden for pin in true.part[name].pins if pin.net is not None)
    assert 0 < sum(net.unexplained_pads for net in exam.board.nets) <= missing
