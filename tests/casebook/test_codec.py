"""Events to JSON and back, hostile data, and versions of old."""

import json
from pathlib import Path

import pytest
from tests.casebook.boards import two_capacitors

from ohmwright.boardmap import Layer
from ohmwright.casebook import Amended, CaseOpened, Undone, happening_from_json, json_of
from ohmwright.casebook import events as h
from ohmwright.casebook.events import KINDS
from ohmwright.circuit import Feed, Net, Part, Pin
from ohmwright.errors import DataError
from ohmwright.facts import Behaviour, CopperShape, Gradient, GradientPoint, HeatFinding, LookFinding, Quantity, Symptom
from ohmwright.geometry import Pad, similarity

ALL = (
    CaseOpened(two_capacitors()), h.SymptomTold(Symptom.DEAD), h.EntryDescribed("VIN", 24.0, True, True),
    h.ReadingRecorded(Quantity.OHMS, "VIN", "GND", None), h.LookRecorded(("C1",), LookFinding.CRACK),
    h.HeatRecorded(HeatFinding.PART, ("C1",), 0.5, "camera", (("C1", 0.9),)),
    h.PartTakenOff("C1"), h.PartRefitted("C1"),
    h.PartReplaced("C1"), h.PartCleaned("C1"), h.PartReflowed("C1"), h.Bridged("VIN", "VSYS"),
    h.FeedSet(Feed("VIN", "GND", 0.5, 1.0)), h.FeedOff(), h.Discharged(), h.BoardTried(True),
    h.TestSkipped("read"), h.GateOverruled("first-feed", "measured by hand"),
    h.PartPlaced(Part("R1", "resistor", (Pin("1"), Pin("2")))), h.PinNamed("C1.1", "plus"),
    h.PadsJoined("C1.1", "L1.1"),
    h.PictureAdded(Layer("0" * 64, "top", 400, 300, similarity(0.25, 0.0, 0.0, 0.0), "photo.jpg")),
    h.PictureRegistered(
        "0" * 64, Layer("1" * 64, "top", 400, 300, similarity(0.2, 0.0, 1.0, 2.0), "b.jpg", "by matching", "0" * 64)
    ),
    h.ScaleSet(0.5, "U1"), h.PartErased("C1"), h.NetTold("C1.1", "V12", nominal=1.2),
    h.PartMapped(Part("R1", "resistor", (Pin("1"),)), (Pad("R1", "1", 1.0, 2.0, 0.5, 0.5, 0.0, "top"),)),
    h.PartIdentified("C1", "QX4054", "QX4054.pdf, page 3", "plain-tan"),
    h.PadsApart("C1.1", "C2.1", "continuity"), h.Inspected("top", 1.0, 2.0, 10.0, 10.0, 20.0),
    h.BoardLaid((Part("R1", "resistor", (Pin("1", "GND"),)),), (Pad("R1", "1", 1.0, 2.0, 0.5, 0.5, 0.0, "top"),),
                (Net("GND"),), source="board.kicad_pcb", outline=((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))),
    h.GradientRecorded(Gradient("VIN", CopperShape(outline=((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))), (1.0, 1.0), 1.5,
                                (GradientPoint(2.0, 1.0, -1e-3, "C1.1"),), (1.0, 1.0))),
    h.TraceRecorded(Behaviour.RETRIES, 0.4, 1.4, "every 1.4 s", (0.0, 0.1), (0.02, 0.1), (19.5, 19.5)),
    Undone(3), Amended(3, h.FeedOff(), 2),
)  # fmt: skip


def test_every_kind_is_among_the_samples():
    """A new kind of event must be added here and to the stored samples."""
    assert {type(e) for e in ALL} == set(KINDS.values())


@pytest.mark.parametrize("happening", ALL, ids=lambda e: e.kind)
def test_json_and_back_is_the_same(happening):
    """Through text, as it lies on the disk."""
    assert happening_from_json(json.loads(json.dumps(json_of(happening)))) == happening


@pytest.mark.parametrize("line", (Path(__file__).parent / "old_events.jsonl").read_text().splitlines())
def test_old_versions_load(line):
    """Written by earlier versions; never remade."""
    assert happening_from_json(json.loads(line)).kind == json.loads(line)["kind"]


@pytest.mark.parametrize(
    "bad",
    [
        None, [], {}, {"kind": 3}, {"kind": "part-taken-of", "part": "C1"}, {"kind": "part-taken-off"},
        {"kind": "part-taken-off", "part": 3}, {"kind": "part-taken-off", "part": "C1", "extra": 1},
        {"kind": "part-taken-off", "version": 99, "part": "C1"},
        {"kind": "part-taken-off", "version": True, "part": "C1"},
        {"kind": "part-taken-off", "part": "C" * 30_000}, {"kind": "board-tried", "works": 1},
        {"kind": "look-recorded", "parts": "C1", "finding": "crack"},
        {"kind": "look-recorded", "parts": ["C1"], "finding": ["crack"]},
        {"kind": "heat-recorded", "finding": "part", "parts": [], "watts": float("nan")},
    ],
)  # fmt: skip
def test_bad_events_are_named_errors(bad):
    """Never a traceback of ours."""
    with pytest.raises(DataError):
        happening_from_json(bad)


def test_deep_nesting_is_refused():
    """An amendment of an amendment of an amendment cannot be written."""
    data = {"kind": "feed-off"}
    for _ in range(500):
        data = {"kind": "amended", "sequence": 1, "now": data}

    with pytest.raises(DataError):
        happening_from_json(data)
