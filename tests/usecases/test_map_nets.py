"""A pad's story, a netlist taken for what was drawn, and a file that is laid, without a page."""

import pytest

from ohmwright.bootstrap import desk_at
from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.errors import DataError
from ohmwright.facts import HANDHELD
from ohmwright.formats.known_board import KnownBoard, read_known_board
from ohmwright.geometry import Pad
from ohmwright.usecases import lay_known, map_board, map_nets, open_case, record_reading, undo
from ohmwright.usecases.desk import view_of
from ohmwright.usecases.look_fields import side_fields
from ohmwright.usecases.run_test import Step, run_step

CASE, KEY = "own lamp", "0" * 64
NET = """(export (version E)
 (components (comp (ref "C1") (value "10u")) (comp (ref "L1") (value "4u7")) (comp (ref "U7") (value "x")))
 (nets (net (code "1") (name "GND") (node (ref "C1") (pin "2")) (node (ref "U7") (pin "1")))
  (net (code "2") (name "Net-(C1-Pad1)") (node (ref "C1") (pin "1")) (node (ref "L1") (pin "2")))
  (net (code "3") (name "/SW") (node (ref "L1") (pin "1")) (node (ref "U7") (pin "2")))))
"""
CORNERS = ((0.0, 0.0), (30.0, 0.0), (0.0, 20.0), (30.0, 20.0))


class Blind:
    """Eyes that see no edge of a board on any picture."""

    def board_line(self, _layer):
        return ()


@pytest.fixture
def desk():
    made = desk_at(memory=True)
    open_case(made, CASE, map_board.blank_board("lamp"))
    map_board.add_picture(made, CASE, KEY, "top", (4000, 3000), "photo.jpg")
    map_board.place_part(made, CASE, "coil", KEY, (500, 300), (600, 300))
    map_board.place_part(made, CASE, "capacitor", KEY, (500, 400), (540, 400), value="22u")
    return made


def test_a_pad_tells_its_story(desk):
    map_nets.heard(desk, CASE, "L1.2", "C1.1", True)
    map_nets.heard(desk, CASE, "C1.2", "GND", True)
    view = record_reading(desk, CASE, "ohms", "C1.1", "GND", 47.0)
    story = map_nets.pad_story(view, "C1.1", map_nets.joins_for(view))
    assert story.words == "rail at L1"
    assert [(mate.pad, mate.entries) for mate in story.copper] == [("L1.2", ("e5",))]
    assert [(mate.pad, mate.through) for mate in story.dc] == [("L1.1", ("L1",))]
    assert "47" in story.readings[0][1]
    assert "where the other end of L1 goes" in story.unknown
    lonely = map_nets.pad_story(view, "L1.1", ())
    assert lonely.net is None
    assert "joined to nothing" in lonely.unknown[0]
    with pytest.raises(DataError):
        map_nets.pad_story(view, "C7.1", ())


def test_the_advice_asks_to_map_where_nothing_else_is_left(desk):
    view = map_nets.heard(desk, CASE, "C1.2", "GND", True)
    assert any(test.kind.value == "map more" for test in view.advice.tests) or view.advice.tests


def test_a_rail_that_is_short_is_not_swallowed_by_ground(desk):
    """Beeps in the order in which they come to a newcomer: the rail and ground stay two nets."""
    map_nets.heard(desk, CASE, "C1.1", "C1.2", True)
    map_nets.heard(desk, CASE, "C1.2", "GND", True)
    map_nets.heard(desk, CASE, "L1.2", "GND", True)
    view = map_nets.heard(desk, CASE, "L1.2", "C1.1", True)
    assert view.board.pins_on["GND"] == ()
    doubts = map_nets.nets_view(view, ()).doubts
    assert any(doubt.fault and "C1" in doubt.words for doubt in doubts)
    view = map_board.tell_net(desk, CASE, "C1.2", ground=True)
    view = map_board.join_pads(desk, CASE, ["L1.2", "C1.1"], "sight")
    assert view.board.net_at("C1.2") == "GND"
    assert view.board.net_at("C1.1") == view.board.net_at("L1.2") != "GND"
    back = undo(desk, CASE).board
    assert back.part("L1").pin("2").net != back.net_at("C1.1")


def test_a_schematics_netlist_is_taken_for_parts_of_the_same_names(desk, tmp_path):
    file = tmp_path / "lamp.net"
    file.write_text(NET)
    known = read_known_board(file)
    view = lay_known.take_nets(desk, CASE, known)
    assert view.board.net_at("C1.2") == "GND"
    assert view.board.net_at("C1.1") == view.board.net_at("L1.2") == "Net-_C1-Pad1"
    assert view.board.net_at("L1.1") == "/SW"
    assert lay_known.against_map(view.board, known) == (4, 0, ())
    with pytest.raises(DataError, match="where its pads are"):
        lay_known.lay_known(desk, CASE, known, [])
    other = tmp_path / "other.net"
    other.write_text(NET.replace('"C1"', '"C91"').replace('"L1"', '"L91"'))
    with pytest.raises(DataError, match="on the map"):
        lay_known.take_nets(desk, CASE, read_known_board(other))


def test_a_file_with_places_tells_the_scale_that_nobody_told(tmp_path):
    """Marked at 20 pixels to the millimetre; a file's millimetres are true ones (IPC-D-356: units of 0.001 mm)."""
    pads = tuple(Pad(f"C{n}", "1", x, y, 0.5, 0.5, 0.0, "top") for n, (x, y) in enumerate(CORNERS, 1))
    parts = tuple(Part(pad.part, "capacitor", (Pin("1", "GND"), Pin("2", "V5"))) for pad in pads)
    edge = ((-2.0, -1.0), (33.0, -1.0), (33.0, 24.0), (-2.0, 24.0))
    board = Board("lamp", "GND", (Net("GND"), Net("V5")), parts)
    known = KnownBoard("lamp.kicad_pcb", "KiCad board", board, pads, outline=edge)
    desk = desk_at(memory=True)
    open_case(desk, CASE, map_board.blank_board("lamp"))
    map_board.add_picture(desk, CASE, KEY, "top", (4000, 3000), "photo.jpg")
    marks = [lay_known.MarkedPad(f"C{n}.1", KEY, (500 + 20 * x, 300 + 20 * y)) for n, (x, y) in enumerate(CORNERS, 1)]
    off = lay_known.MarkedPad("C4.1", KEY, (500 + 20 * 30 + 6.0, 300 + 20 * 20))
    told = lay_known.fit_told(desk, CASE, known, [*marks[:3], off])
    assert max(told.residuals_mm) == pytest.approx(0.15, abs=0.1)
    view = lay_known.lay_known(desk, CASE, known, marks)
    assert view.book.chart.layer(KEY).mm_per_px == pytest.approx(1 / 20)
    assert "lamp.kicad_pcb" in view.book.chart.scale_from
    laid = {pad.part: pad for pad in view.book.chart.pads}
    assert laid["C4"].x_mm - laid["C1"].x_mm == pytest.approx(30.0)
    assert laid["C4"].width_mm == pytest.approx(0.5)
    # The fields of a lens go as far as the file's edge, whatever the picture shows around it, at any later scale.
    for told_mm, size in ((None, (35.0, 25.0)), (100.0, (70.0, 50.0))):
        if told_mm:
            view = map_board.set_scale(desk, CASE, KEY, (0.0, 0.0), (1000.0, 0.0), told_mm)
        boxes = [one.box for one in side_fields(view, "top", 10.0, Blind()).fields]
        wide = max(x + w for x, _, w, _ in boxes) - min(x for x, _, _, _ in boxes)
        high = max(y + h for _, y, _, h in boxes) - min(y for _, y, _, _ in boxes)
        assert (wide, high) == pytest.approx(size, abs=1.1)


def test_a_scale_that_was_told_stays_when_a_file_is_laid(desk):
    for part in ("C1", "L1"):
        map_board.erase_part(desk, CASE, part)
    map_board.set_scale(desk, CASE, KEY, (0.0, 0.0), (1000.0, 0.0), 55.0)
    pads = tuple(Pad(f"C{n}", "1", x, y, 0.5, 0.5, 0.0, "top") for n, (x, y) in enumerate(CORNERS, 1))
    parts = tuple(Part(pad.part, "capacitor", (Pin("1", "GND"), Pin("2", "V5"))) for pad in pads)
    known = KnownBoard("lamp.kicad_pcb", "KiCad board", Board("lamp", "GND", (Net("GND"), Net("V5")), parts), pads)
    marks = [lay_known.MarkedPad(f"C{n}.1", KEY, (500 + 20 * x, 300 + 20 * y)) for n, (x, y) in enumerate(CORNERS, 1)]
    view = lay_known.lay_known(desk, CASE, known, marks)
    assert "55 mm" in view.book.chart.scale_from


def test_a_close_look_says_something_of_parts_and_a_far_one_does_not(desk):
    far = map_nets.look_over(desk, CASE, "top", (0.0, 0.0, 100.0, 80.0), 1.0)
    assert not far.facts.looks
    near = map_nets.look_over(desk, CASE, "top", (0.0, 0.0, 100.0, 80.0), 20.0)
    assert set(near.facts.looks[0].parts) == {"L1", "C1"}
    scaled = map_board.set_scale(desk, CASE, KEY, (0.0, 0.0), (1000.0, 0.0), 50.0)
    assert map_nets.inspected(scaled)[0].width_mm == pytest.approx(200.0)
    assert map_nets.mark(desk, CASE, "C1", "crack").facts.looks[-1].finding.value == "crack"


class Buzzer:
    """A bench that only buzzes."""

    meter = HANDHELD

    def __init__(self, ohms):
        self.ohms = ohms

    def read(self, quantity, red, black):
        assert quantity == "ohms"
        return self.ohms


@pytest.mark.parametrize(("ohms", "joined"), [(0.3, True), (29.0, True), (31.0, False), (None, False)])
def test_a_bench_that_answers_by_itself_buzzes_for_the_advice(desk, ohms, joined):
    step = Step("buzz", red="L1.2", black="C1.1")
    (entry,) = run_step(desk, CASE, step, Buzzer(ohms))
    assert entry.kind == ("pads-joined" if joined else "pads-apart")
    board = view_of(desk, CASE).board
    same = board.part("L1").pin("2").net == board.part("C1").pin("1").net is not None
    assert same == joined
