"""Whether a netlist belongs to a board: measured on KiCad's own demo boards, the right one and wrong ones."""

import random
from pathlib import Path

import pytest

from ohmwright.boardmap.agreement import BEFORE, agreement
from ohmwright.boardmap.copper import Groups, Heard
from ohmwright.casebook.hearing import conducts
from ohmwright.formats.known_board import read_known_board

DEMOS = Path("/usr/share/kicad/demos")


def nets_of(name):
    board = read_known_board(DEMOS / name).board
    through = tuple((p.name, *(f"{p.name}.{q.number}" for q in p.pins)) for p in board.parts if conducts(p))
    return {f"{p.name}.{q.number}": q.net for p in board.parts for q in p.pins}, through, board.ground


@pytest.fixture(scope="module")
def boards():
    return {name: nets_of(name) for name in ("stickhub/StickHub.kicad_pcb", "video/video.kicad_pcb")}


def buzzed(truth, through, count, seed, slips=0.0):
    """What a person hears on a board whose nets are `truth`, buzzing pads that are likely to belong together."""
    chance, dc = random.Random(seed), Groups()
    for _, p, q in through:
        if truth[p] and truth[q]:
            dc.merge(truth[p], truth[q])
    pads = sorted(pad for pad, net in truth.items() if net)
    out = []
    for n in range(count):
        a = chance.choice(pads)
        near = [pad for pad in pads if truth[pad] == truth[a] and pad != a]
        b = chance.choice(near if near and chance.random() < 0.5 else [pad for pad in pads if pad != a])
        beeps = dc.together(truth[a], truth[b])
        out.append(Heard(a, b, beeps != (chance.random() < slips), n + 2))
    return out


def test_the_right_file_is_known_in_ten_readings(boards):
    truth, through, ground = boards["stickhub/StickHub.kicad_pcb"]
    for seed in range(20):
        told = agreement(buzzed(truth, through, 10, seed, slips=0.02), truth, through, ground)
        assert told.belongs > 0.8, told.words
        assert sum(weight for _, weight in told.belief) == pytest.approx(1.0)


def test_another_boards_file_is_told_by_the_disagreement(boards):
    """The same names of parts on another board: what is heard does not fit."""
    stick, through, _ = boards["stickhub/StickHub.kicad_pcb"]
    video, video_through, ground = boards["video/video.kicad_pcb"]
    common = sorted(set(stick) & set(video))
    truth = {pad: stick[pad] for pad in common}
    link = tuple(one for one in through if one[1] in truth and one[2] in truth)
    soon = [agreement(buzzed(truth, link, 14, seed), video, video_through, ground).belongs for seed in range(20)]
    assert sum(belongs < 0.05 for belongs in soon) >= 14  # half of the readings are silences, which tell little
    for seed in range(20):
        told = agreement(buzzed(truth, link, 40, seed), video, video_through, ground)
        assert told.belongs < 0.05, told.words
        assert "does not belong" in told.words
        assert f"{len(told.agree)} of {len(told.agree) + len(told.disagree)}" in told.words


def test_a_stale_file_is_told_from_both(boards):
    """One pin in eight moved, as in a public board whose netlist was not exported again; it takes many readings."""
    truth, through, ground = boards["stickhub/StickHub.kicad_pcb"]
    nets = sorted({net for net in truth.values() if net})
    best = []
    for seed in range(20):
        chance = random.Random(seed)
        stale = {pad: chance.choice(nets) if net and chance.random() < 0.125 else net for pad, net in truth.items()}
        told = agreement(buzzed(truth, through, 100, seed), stale, through, ground)
        best.append(max(told.belief, key=lambda one: one[1])[0])
    assert best.count("another revision") >= 16


def test_nothing_heard_says_nothing():
    told = agreement([], {"C1.1": "A"}, (), "GND")
    assert dict(told.belief) == pytest.approx(BEFORE)
    assert "nothing was measured" in told.words
    strange = agreement([Heard("Z9.1", "C1.1", True, 2)], {"C1.1": "A"}, (), "GND")
    assert strange.unknown == 1


def test_a_beep_through_a_coil_agrees():
    nets = {"L1.1": "SW", "L1.2": "V5", "C1.1": "V5", "U1.2": "SW", "C1.2": "GND"}
    heard = [Heard("U1.2", "C1.1", True, 2), Heard("C1.2", "GND", True, 3), Heard("C1.1", "GND", False, 4)]
    assert agreement(heard, nets, (("L1", "L1.1", "L1.2"),), "GND").agree == (2, 3, 4)
    assert agreement(heard, nets, (), "GND").disagree == (2,)
