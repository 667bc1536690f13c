"""Boards known from files: KiCad's own demo boards (Debian kicad-demos) read in two ways, and netlists of ours."""

import math
import re
from pathlib import Path

import pytest

from ohmwright.boardmap.agreement import compared
from ohmwright.boardmap.lookover import has_board
from ohmwright.errors import FileFormatError
from ohmwright.formats.ipc356 import read_ipc356
from ohmwright.formats.kicad_edge import board_edge
from ohmwright.formats.kicad_netlist import netlist_from_kicad
from ohmwright.formats.known_board import KIND_BOARD, KIND_TEST, moved, read_known_board
from ohmwright.syntax.sexpr import parse_sexpr

DEMOS = Path("/usr/share/kicad/demos")
STICK, VIDEO = DEMOS / "stickhub" / "StickHub.kicad_pcb", DEMOS / "video" / "video.kicad_pcb"
NET = """(export (version E)
 (design (source "x"))
 (components (comp (ref "C1") (value "10u") (footprint "Capacitor_SMD:C_0603"))
  (comp (ref "U1") (value "AP1117-33") (footprint "SOT-223")))
 (libparts (libpart (lib "a") (part "b")))
 (nets (net (code "1") (name "GND") (node (ref "C1") (pin "2") (pintype "passive")) (node (ref "U1") (pin "1")))
  (net (code "2") (name "/POWER{slash}VIN") (node (ref "C1") (pin "1")) (node (ref "U1") (pin "3") (pinfunction "VI")))
  (net (code "3") (name "unconnected-(U1-Pad2)") (node (ref "U1") (pin "2")))))
"""


def as_test_file(known) -> bytes:
    """The same board as a test file, written by the columns of the standard; one millimetre is a thousand steps."""
    nets = {f"{p.name}.{q.number}": q.net for p in known.board.parts for q in p.pins}
    names = {net: f"NNAME{n}" for n, net in enumerate(sorted({n for n in nets.values() if n}))}
    out = ["C made for a test", "P  UNITS CUST 1", *(f"P  {short} {long}" for long, short in names.items())]
    for pad in known.pads:
        net = nets[f"{pad.part}.{pad.pin}"]
        kind, hole = ("317", f"D{round(pad.drill_mm * 1000):>4}P") if pad.drill_mm else ("327", " " * 6)
        layer = 0 if pad.drill_mm else 4 if pad.side == "bottom" else 1
        x, y, w, h = (round(1000 * v) for v in (pad.x_mm, -pad.y_mm, pad.width_mm, pad.height_mm))
        out.append(
            f"{kind}{names.get(net, 'N/C'):<14}   {pad.part[:6]:<6}-{pad.pin[:4]:<4} {hole}A{layer:02d}"
            f"X{x:>7}Y{y:>7}X{min(w, 9999):>4}Y{min(h, 9999):>4}R{round(pad.angle_deg) % 360:>3}"
        )
    return ("\n".join([*out, "999"]) + "\n").encode()


@pytest.mark.parametrize("path", [STICK, VIDEO], ids=["stickhub", "video"])
def test_a_board_and_its_test_file_agree_pin_for_pin(path, tmp_path):
    board = read_known_board(path)
    assert board.kind == KIND_BOARD
    short = [p for p in board.pads if len(p.part) <= 6 and len(p.pin) <= 4]
    assert len(short) > 0.95 * len(board.pads)
    file = tmp_path / "board.ipc"
    file.write_bytes(as_test_file(board))
    test = read_known_board(file)
    assert test.kind == KIND_TEST
    nets = {f"{p.name}.{q.number}": q.net for p in board.board.parts for q in p.pins}
    other = {f"{p.name}.{q.number}": q.net for p in test.board.parts for q in p.pins}
    both = [pin for pin in nets if pin in other]
    assert len(both) > 0.95 * len(nets)
    assert all(nets[pin] == other[pin] for pin in both)
    places = {(p.part, p.pin): (p.x_mm, p.y_mm) for p in reversed(test.pads)}
    first = {(p.part, p.pin): (p.x_mm, p.y_mm) for p in reversed(short)}
    assert max(math.dist(first[key], places[key]) for key in first) < 0.002
    assert test.board.ground == board.board.ground


def test_pads_lie_where_the_places_of_their_parts_say():
    """The box around a part's pads, worked out by the board reader in another way, has its middle there too."""
    known = read_known_board(STICK)
    for part in known.board.parts:
        pads = [pad for pad in known.pads if pad.part == part.name]
        if part.place is None or len(pads) != 2 or pads[0].width_mm != pads[1].width_mm:
            continue
        x, y = (pads[0].x_mm + pads[1].x_mm) / 2, (pads[0].y_mm + pads[1].y_mm) / 2
        assert math.dist((x, y), (part.place.x_mm, part.place.y_mm)) < 0.02, part.name


def test_a_netlist_of_the_schematic(tmp_path):
    found = netlist_from_kicad(NET)
    assert found.net_of == {"C1.2": "GND", "U1.1": "GND", "C1.1": "/POWER/VIN", "U1.3": "/POWER/VIN", "U1.2": None}
    assert found.parts[0].value == "10u"
    file = tmp_path / "lamp.net"
    file.write_text(NET)
    known = read_known_board(file)
    assert known.board.part("C1").kind == "capacitor"
    assert not known.pads
    assert moved(known, "0V").board.net_at("C1.2") == "0V"
    assert moved(known, "GND") is known


@pytest.mark.parametrize("bad", ["(export (version Z) (nets))", "(export (version E) (nets))", "(other)", "hello", "("])
def test_bad_netlists_are_refused(bad, tmp_path):
    file = tmp_path / "x.net"
    file.write_text(bad)
    with pytest.raises(FileFormatError):
        read_known_board(file)


def test_two_netlists_of_one_board_and_of_another():
    """Names do not count, what belongs together does."""
    stick = read_known_board(STICK)
    nets = {f"{p.name}.{q.number}": q.net for p in stick.board.parts for q in p.pins}
    renamed = {pin: net and f"x{hash(net) % 10**8}" for pin, net in nets.items()}
    whole = compared(nets, renamed)
    assert not whole.other
    assert not whole.missing
    video = read_known_board(VIDEO)
    others = {f"{p.name}.{q.number}": q.net for p in video.board.parts for q in p.pins}
    strange = compared(nets, others)
    assert len(strange.other) > 0.3 * (len(strange.same) + len(strange.other))


def test_a_test_file_made_by_us_is_read_by_its_columns():
    counts = read_ipc356(as_test_file(read_known_board(STICK)))
    assert len(counts.pads) == len(read_known_board(STICK).pads)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"(kicad_sch (version 20211123))", "schematic"), (b"(footprint R_0402 (layer F.Cu))", "footprint"),
        (b'<?xml version="1.0"?><export version="E"/>', "XML"), (b"R1 a b 10k\n", "neither"), (b"", "neither"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF\nC", "picture"), ("(kicad_pcb)".encode("utf-16"), "UTF-16"),
        (b"(kicad_pcb (version 20211014) (net 0", "cut off"),
        (b'(export (version "E") (nets (net (name "V\xdc"))))', "0xdc"),
    ],
)  # fmt: skip
def test_what_is_near_to_a_board_file_is_told_what_it_is_and_by_its_own_name(data, said, tmp_path):
    file = tmp_path / "kept-under-this-name"
    file.write_bytes(data)
    with pytest.raises(FileFormatError) as told:
        read_known_board(file, "lamp.kicad_pcb")
    assert said in told.value.why
    assert told.value.hint
    assert told.value.where.startswith("lamp.kicad_pcb")
    assert "kept-under" not in str(told.value)


EDGES = [STICK, VIDEO, DEMOS / "ecc83" / "ecc83-pp.kicad_pcb", DEMOS / "interf_u" / "interf_u.kicad_pcb"]


@pytest.mark.parametrize("path", EDGES, ids=lambda p: p.stem)
def test_the_edge_of_a_board_is_where_its_file_draws_it(path):
    """The extent against the bare text of the file; and every pad of it lies on the board."""
    known = read_known_board(path)
    line = r"\(gr_line \(start ([-\d.]+) ([-\d.]+)\) \(end ([-\d.]+) ([-\d.]+)\)[^\n]*Edge\.Cuts"
    drawn = re.findall(line, path.read_text())
    ends = [(float(x), float(y)) for a, b, c, d in drawn for x, y in ((a, b), (c, d))]
    assert ends
    for axis in (0, 1):
        for extent in (min, max):
            assert extent(at[axis] for at in known.outline) == pytest.approx(extent(at[axis] for at in ends), abs=0.3)
    assert all(has_board((pad.x_mm, pad.y_mm, 0.2, 0.2), known.outline) for pad in known.pads)


def test_edges_of_every_shape_close_and_what_does_not_close_is_none():
    """A round board, one drawn in pieces any way round with an old arc and a new one, and three sides of a square."""
    head = '(kicad_pcb (version 20211014) (gr_line (start 0 0) (end 90 90) (layer "F.SilkS"))'
    disc = parse_sexpr(f'{head} (gr_circle (center 10 10) (end 20 10) (layer "Edge.Cuts")))', where="")
    assert all(math.dist(at, (10.0, 10.0)) == pytest.approx(10.0) for at in board_edge(disc))
    pieces = (
        "(gr_line (start 5 0) (end 20 0) (layer Edge.Cuts)) (gr_line (start 20 10) (end 20 0) (layer Edge.Cuts))"
        "(gr_line (start 0 5) (end 0 10) (layer Edge.Cuts)) (gr_arc (start 5 5) (end 0 5) (angle 90) (layer Edge.Cuts))"
        "(gr_arc (start 20 10) (mid 10 14) (end 0 10) (layer Edge.Cuts))"
    )
    edge = board_edge(parse_sexpr(f"{head} {pieces})", where=""))
    assert {(round(x, 6), round(y, 6)) for x, y in edge} >= {(5, 0), (20, 0), (20, 10), (10, 14), (0, 10), (0, 5)}
    assert has_board((1.3, 1.6, 0.5, 0.5), edge), "the corner is rounded about (5, 5)"
    assert not has_board((0.2, 0.2, 0.5, 0.5), edge)
    open_one = "(gr_line (start 0 0) (end 9 0) (layer Edge.Cuts)) (gr_line (start 9 0) (end 9 9) (layer Edge.Cuts))"
    assert board_edge(parse_sexpr(f"{head} {open_one})", where="")) == ()
    odd = "(gr_line (layer Edge.Cuts)) (gr_arc (start 1 x) (end 2 2) (layer Edge.Cuts))"
    odd += "(gr_rect (start 1) (layer Edge.Cuts))"
    assert board_edge(parse_sexpr(f"{head} {odd})", where="")) == ()
