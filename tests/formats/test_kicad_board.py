"""KiCad boards: own fixtures in five formats, the demo boards that Debian packages, and hostile files.

Outside checks: parts, pins and nets are counted a second time by regular expressions over the raw file, and
the demo boards (package ``kicad-demos``) were drawn by others.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ohmwright.circuit import Board, Spread
from ohmwright.devices import KINDS
from ohmwright.errors import FileFormatError, OhmwrightError
from ohmwright.formats.board_json import board_from_json, board_to_json
from ohmwright.formats.kicad_board import read_kicad_board

OWN = Path(__file__).resolve().parents[1] / "data" / "kicad"
DEMOS = Path("/usr/share/kicad/demos")
WITHOUT_NETS = "microwave.kicad_pcb"
FORMATS = (5, 6, 7, 8, 9)


def lamp(number: int) -> Path:
    return OWN / f"lamp-format-{number}.kicad_pcb"


def demo_boards() -> list[Path]:
    return sorted(DEMOS.rglob("*.kicad_pcb"))


ALL = [*(lamp(number) for number in FORMATS), *(path for path in demo_boards() if path.name != WITHOUT_NETS)]
_WORD = r'(?:"((?:[^"\\]|\\.)*)"|([^\s()"]+))'


def test_the_demo_boards_are_installed() -> None:
    assert len(demo_boards()) >= 10, "make test installs the package kicad-demos"


def counted(path: Path) -> tuple[int, Counter[int], set[str]]:
    """Parts, how many have so many pins, and nets of pads: counted without our reader."""
    text = path.read_text(encoding="utf-8")
    parts = re.split(r"\n\s*\((?:module|footprint)\s", text)[1:]
    sizes: Counter[int] = Counter()
    nets: set[str] = set()
    for part in parts:
        pins: dict[str, set[str]] = {}
        for pad in re.split(r"\n\s*\(pad\s+", part)[1:]:
            number = re.match(_WORD, pad)
            net = re.search(r"\(net \d+ " + _WORD + r"\)", pad)
            assert number
            name = (net[1] or net[2] or "") if net else ""
            joined = "" if name.startswith("unconnected-") else name.replace("{slash}", "/")
            nets |= {joined} - {""} if (number[1] or number[2]) else set()
            if number[1] or number[2]:
                pins.setdefault((number[1] or number[2]).strip(), set()).add(joined)
        sizes[sum(max(1, len(found - {""})) for found in pins.values())] += 1
    return len(parts), sizes, nets


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_parts_pins_and_nets_agree_with_a_second_count(path: Path) -> None:
    parts, sizes, nets = counted(path)
    board = read_kicad_board(path)

    assert len(board.parts) == parts
    assert Counter(len(part.pins) for part in board.parts) == sizes
    assert {net.name for net in board.nets} == nets


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_every_part_can_be_solved_and_broken(path: Path) -> None:
    """No part is given a kind that its pins do not fit."""
    board = read_kicad_board(path)
    for part in board.parts:
        kind = KINDS[part.kind]
        elements = list(kind.elements(part))
        modes = list(kind.modes(part))

        assert {role for pin in part.pins if (role := pin.role)} <= set(kind.roles), part
        assert all(element.part == part.name for element in elements)
        assert all(mode.share >= 0.0 for mode in modes)
        assert part.source, part
        assert part.place is not None
        assert math.isfinite(part.place.x_mm)


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_every_board_survives_our_own_format(path: Path) -> None:
    board = read_kicad_board(path)

    assert board_from_json(board_to_json(board)) == board


def test_a_board_without_nets_is_refused_with_its_reason() -> None:
    (path,) = DEMOS.rglob(WITHOUT_NETS)
    with pytest.raises(FileFormatError, match="No pad of this board is on a net") as refused:
        read_kicad_board(path)

    assert "microwave" in refused.value.where
    assert refused.value.hint


@pytest.fixture(params=FORMATS)
def board(request: pytest.FixtureRequest) -> Board:
    return read_kicad_board(lamp(request.param))


def test_kinds_and_values_of_the_lamp(board: Board) -> None:
    kinds = {part.name: part.kind for part in board.parts if part.name != "U1"}

    assert kinds == {
        "J1": "connector", "F1": "fuse", "D1": "tvs", "C1": "capacitor", "C2": "capacitor", "C3": "capacitor",
        "FB1": "ferrite", "C4": "capacitor", "R1": "resistor", "R2": "sense", "R3": "mechanical", "Q1": "fet-n",
        "J2": "connector", "JP1": "connector", "H1": "mechanical",
    }  # fmt: skip
    assert {name: value.median for name in ("C1", "C2", "C3", "R1", "R2") if (value := board.part(name).value)} == {
        "C1": 10e-6, "C2": 22e-6, "C3": 100e-9, "R1": 4700.0, "R2": 0.05,
    }  # fmt: skip
    assert board.part("R1").value == Spread(4700.0, 0.005, "value '4k7 1%'")
    assert [board.part(name).rating.volts for name in ("C1", "C2", "C3")] == [25.0, 6.3, None]


def test_rails_ground_and_entries_of_the_lamp(board: Board) -> None:
    assert board.ground == "GND"
    assert {net.name: net.nominal for net in board.nets if net.rail} == {"VIN": None, "+12V": 12.0, "+3.3V": 3.3}
    assert board.entries[0] == "VIN"


def test_legs_of_the_lamp(board: Board) -> None:
    assert {pin.role: pin.net for pin in board.part("D1").pins} == {"cathode": "+12V", "anode": "GND"}
    assert {pin.role: pin.net for pin in board.part("Q1").pins} == {
        "gate": "/lamp/GATE", "source": "/lamp/SENSE", "drain": "/lamp/OUT",
    }  # fmt: skip


@pytest.mark.parametrize("number", [6, 7, 8, 9])
def test_pin_names_tell_the_regulator(number: int) -> None:
    part = read_kicad_board(lamp(number)).part("U1")

    assert part.kind == "linear"
    assert {pin.role: pin.net for pin in part.pins} == {"IN": "+12V", "OUT": "+3.3V", "GND": "GND"}


def test_without_pin_names_the_regulator_is_an_unknown_load_and_the_board_says_so() -> None:
    board = read_kicad_board(lamp(5))

    assert board.part("U1").kind == "ic"
    assert {pin.role: pin.net for pin in board.part("U1").pins} != {}
    assert any(note.startswith("U1:") for note in board.notes)


def test_places_of_the_lamp(board: Board) -> None:
    """By hand: C3 lies on the bottom, 0.96 mm between pads of 0.56 x 0.62; U1's pads span 8.3 x 6.1 mm."""
    c3, u1, q1, j1 = (board.part(name).place for name in ("C3", "U1", "Q1", "J1"))

    assert c3 is not None
    assert (c3.side, c3.x_mm, c3.y_mm) == ("bottom", 40.0, 24.0)
    assert (c3.width_mm, c3.height_mm) == pytest.approx((1.52, 0.62))
    assert u1 is not None
    assert (u1.x_mm, u1.y_mm, u1.width_mm, u1.height_mm, u1.angle_deg) == pytest.approx((32, 20, 8.3, 6.1, 0))
    assert q1 is not None
    assert (q1.x_mm, q1.y_mm, q1.angle_deg) == pytest.approx((60, 20, 180))
    assert j1 is not None
    # The jack's pads lie at 10 and 4 mm: the middle of the box is not the origin of the part.
    assert (j1.x_mm, j1.y_mm, j1.width_mm) == pytest.approx((7, 20, 9))


def one_part(reference: str, value: str, *pads: str, version: str = "20221018", at: str = "(at 1 2)") -> str:
    rows = "\n".join(pads)
    return (
        f'(kicad_pcb (version {version}) (net 0 "") (net 1 "GND")\n(footprint "Own:X" (layer "F.Cu") {at}\n'
        f'(fp_text reference "{reference}" (at 0 0))\n(fp_text value "{value}" (at 0 0))\n{rows}))'
    )


def pad(number: str, net: str, size: str = "1 1", at: str = "0 0") -> str:
    return f'(pad "{number}" smd rect (at {at}) (size {size}) (layers "F.Cu") {net})'


def reading(tmp_path: Path, text: str) -> Board:
    path = tmp_path / "one.kicad_pcb"
    path.write_text(text, encoding="utf-8")
    return read_kicad_board(path)


def test_a_turned_part_lies_where_trigonometry_puts_it(tmp_path: Path) -> None:
    """KiCad turns counter-clockwise on a page whose y goes down: at 90 degrees a pad at x = 3 lies 3 mm above."""
    pads = (pad("1", '(net 1 "GND")', at="0 0 90"), pad("2", '(net 2 "A")', at="3 0 90"))
    place = reading(tmp_path, one_part("R1", "1k", *pads, at="(at 10 20 90)")).part("R1").place

    assert place is not None
    assert (place.x_mm, place.y_mm, place.width_mm, place.height_mm) == pytest.approx((10.0, 18.5, 4.0, 1.0))


def test_nets_without_numbers_are_read(tmp_path: Path) -> None:
    """Later formats name a pad's net without a number."""
    board = reading(tmp_path, one_part("R1", "1k", pad("1", '(net "GND")'), pad("2", '(net "/A{slash}B")')))

    assert {net.name for net in board.nets} == {"GND", "/A/B"}


def test_one_number_on_two_nets_is_two_pins(tmp_path: Path) -> None:
    board = reading(tmp_path, one_part("U1", "X", pad("1", '(net 1 "GND")'), pad("1", '(net 2 "A")'), pad("1", "")))

    assert [(pin.number, pin.net) for pin in board.part("U1").pins] == [("1", "GND"), ("1+2", "A")]


def test_parts_of_one_name_get_names_of_their_own(tmp_path: Path) -> None:
    text = one_part("REF**", "x", pad("1", '(net 1 "GND")'), pad("2", '(net 2 "A")'))
    footprint = text[text.index("(footprint") : -1]
    board = reading(tmp_path, text[:-1] + footprint + footprint.replace('"REF**"', '""') + ")")

    assert len({part.name for part in board.parts}) == 3


@pytest.mark.parametrize("version", ["2", "20100101", "abc", "", "99999999999999999999", "20991231", "-1", "5e7"])
def test_other_versions_are_refused_with_their_reason(tmp_path: Path, version: str) -> None:
    with pytest.raises(FileFormatError, match=r"[Vv]ersion"):
        reading(tmp_path, one_part("R1", "1k", pad("1", '(net 1 "GND")'), pad("2", '(net 2 "A")'), version=version))


@pytest.mark.parametrize("bad", ["nan nan", "1e400 0", "inf 0", "5000 0", "-1e9 2", "one two", "0x10 0", "1_0 a"])
def test_numbers_that_cannot_be_are_refused(tmp_path: Path, bad: str) -> None:
    pads = (pad("1", '(net 1 "GND")'), pad("2", '(net 2 "A")'))
    with pytest.raises(FileFormatError, match="position"):
        reading(tmp_path, one_part("R1", "1k", *pads, at=f"(at {bad})"))
    with pytest.raises(FileFormatError, match="position"):
        reading(tmp_path, one_part("R1", "1k", *pads, pad("3", "", size=bad)))


@pytest.mark.parametrize(
    "text",
    ["(kicad_sch (version 20211123))", "(kicad_pcb)", "PCBNEW-BOARD Version 1", "(kicad_pcb (version 20211014))", "{}"],
)
def test_other_files_are_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(FileFormatError):
        reading(tmp_path, text)


@given(cut=st.integers(1, 9_000))
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_a_file_cut_off_anywhere_is_refused(tmp_path: Path, cut: int) -> None:
    raw = lamp(5).read_bytes().rstrip()
    path = tmp_path / "cut.kicad_pcb"
    path.write_bytes(raw[: min(cut, len(raw) - 1)])

    with pytest.raises(FileFormatError):
        read_kicad_board(path)


@given(
    at=st.integers(0, 16_000),
    put=st.one_of(
        st.binary(min_size=1, max_size=4), st.sampled_from([b"(", b")", b'"', b"nan", b"1e999", b"(pad", b"(net 0)"])
    ),
)
@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_a_damaged_file_is_read_or_refused_in_our_words(tmp_path: Path, at: int, put: bytes) -> None:
    raw = lamp(6).read_bytes()
    path = tmp_path / "damaged.kicad_pcb"
    path.write_bytes(raw[:at] + put + raw[at + len(put) :])
    with contextlib.suppress(OhmwrightError):
        board = read_kicad_board(path)
        for part in board.parts:
            assert list(KINDS[part.kind].elements(part)) is not None
            assert list(KINDS[part.kind].modes(part)) is not None


@given(st.lists(st.sampled_from(["GND", "A", "+5V", ""]), min_size=1, max_size=6), st.sampled_from("CRLDQUYFXJ"))
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_any_letters_with_any_pads_give_a_part_that_can_be_solved(tmp_path: Path, nets: list[str], letter: str) -> None:
    pads = [pad(str(i + 1), f'(net {i + 3} "{net}")' if net else "") for i, net in enumerate(nets)]
    with contextlib.suppress(FileFormatError):
        (part,) = reading(tmp_path, one_part(f"{letter}1", "10", *pads)).parts
        assert all(element.a != element.b for element in KINDS[part.kind].elements(part))
        assert list(KINDS[part.kind].modes(part)) is not None
