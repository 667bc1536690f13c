"""A junction that may be open is read in diode mode, the way it conducts; on ohms a sound one may look open.

Meters drive ohms with less than a junction's drop in many ranges: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

from tests.small_board import small_board

from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.diagnosis.posterior import posterior_of
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.planning.candidates import probes
from ohmwright.planning.foresight import foresee
from ohmwright.planning.scene import forward_of, scene_of
from ohmwright.planning.work import removals
from ohmwright.planning.worth import _paths_of


def with_diode() -> Board:
    """A diode that feeds a net of its own from the rail, and a reading across it that says it may be open."""
    board = small_board()
    diode = Part("D7", "diode", (Pin("1", "VQ", "cathode"), Pin("2", "V33", "anode")))
    load = Part("U7", "ic", (Pin("1", "VQ", "VDD"), Pin("2", "GND", "GND")))
    return replace(board, nets=(*board.nets, Net("VQ")), parts=(*board.parts, diode, load))


ACROSS = Reading(Quantity.OHMS, "V33", "VQ", 4e6, key="e1")


def test_a_diode_that_may_be_open_is_read_the_way_it_conducts() -> None:
    scene = scene_of(posterior_of(with_diode(), Facts(readings=(ACROSS,))))
    offered = [c for c in probes(scene) if c.reading is not None and c.reading.quantity is Quantity.DIODE]
    across = [c for c in offered if (c.reading.red, c.reading.black) == ("V33", "VQ")]
    assert [c.title for c in across] == ["Read diode mode, red on V33 (at C3.1), black on VQ (at D7.1)"]
    assert all(c.title.startswith("Read diode mode, red on ground") for c in offered if c.reading.red == "GND")


def test_it_is_not_offered_twice() -> None:
    read = Reading(Quantity.DIODE, "V33", "VQ", 0.61, key="e2")
    scene = scene_of(posterior_of(with_diode(), Facts(readings=(ACROSS, read))))
    assert not [c for c in probes(scene) if c.reading is not None and c.reading.red == "V33" and "diode" in c.title]


def test_once_off_it_is_read_in_diode_mode_with_red_on_its_anode() -> None:
    blocked = Reading(Quantity.DIODE, "V33", "VQ", None, key="e1")
    belief = posterior_of(with_diode(), Facts(readings=(blocked,)))
    scene = scene_of(belief)
    paths = _paths_of(scene, foresee(belief))
    (candidate,) = [c for c in removals(scene, {"D7": 1.0}, paths) if c.target == ("D7",)]
    read = [(s.quantity, s.red, s.black) for s in candidate.steps if s.act == "read"]
    assert read[:2] == [("diode", "V33", "VQ"), ("part diode", "D7.2", "D7.1")]


def test_only_opened_junctions_have_a_way() -> None:
    belief = posterior_of(with_diode(), Facts(readings=(ACROSS,)))
    ways = {(d.part, d.kind.value, d.label): forward_of(belief, d) for d in belief.roster.defects}
    assert {part for (part, _, _), way in ways.items() if way is not None} >= {"D7"}
    assert all(way is None for (part, _, _), way in ways.items() if part in ("C3", "R1", "L1"))
