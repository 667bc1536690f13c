"""IPC-D-356 files: the columns of the standard, aliases, records that go on, units, and hostile input."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.errors import FileFormatError
from ohmwright.formats.ipc356 import INCH_MM, read_ipc356, record_counts

HEAD = "C  made by hand after the columns of IPC-D-356A\nP  JOB LAMP\nP  UNITS CUST 0\n"


def pad(net="VIN", part="C1", pin="1", x=14900, y=1450, kind="327", layer=1, size=(512, 591), turn=270, drill=0):
    hole = f"D{drill:>4}P" if drill else " " * 6
    return f"{kind}{net:<14}   {part:<6}-{pin:<4} {hole}A{layer:02d}X{x:>7}Y{y:>7}X{size[0]:>4}Y{size[1]:>4}R{turn:>3}"


def read(*lines, head=HEAD):
    return read_ipc356((head + "\n".join(lines) + "\n999\n").encode())


def test_columns_are_those_of_the_standard():
    """The record written out by hand: a mistake in the helper above would show here."""
    line = "327VIN              C1    -1          A01X  14900Y   1450X 512Y 591R270"
    assert line == pad()
    found = read(line)
    assert found.net_of == {"C1.1": "VIN"}
    (one,) = found.pads
    assert (one.x_mm, one.y_mm) == pytest.approx((1.49 * INCH_MM, -0.145 * INCH_MM))
    assert (one.width_mm, one.height_mm, one.angle_deg) == pytest.approx((0.0512 * 25.4, 0.0591 * 25.4, 270.0))
    assert (one.side, one.drill_mm) == ("top", 0.0)


@pytest.mark.parametrize(
    ("units", "step"), [("CUST 0", 2.54e-3), ("CUST", 2.54e-3), ("CUST 1", 1e-3), ("CUST 2", 2.54e-3)]
)
def test_units(units, step):
    found = read(pad(x=-2000, y=3000), head=f"P  UNITS {units}\n")
    assert (found.pads[0].x_mm, found.pads[0].y_mm) == pytest.approx((-2000 * step, -3000 * step))
    assert not found.notes
    assert "no UNITS" in read(pad(), head="").notes[0]


def test_long_names_stand_for_their_aliases():
    alias = "P  NNAME1 A_REALLY_LONG_NET_NAME\n"
    assert read(pad("NNAME1"), head=HEAD + alias).net_of["C1.1"] == "A_REALLY_LONG_NET_NAME"
    in_comment = "C  NNAME1 A_REALLY_LONG_NET_NAME\n"
    assert read(pad("NNAME1"), head=HEAD + in_comment).net_of["C1.1"] == "A_REALLY_LONG_NET_NAME"


def test_an_alias_may_follow_the_records_that_use_it_and_one_that_never_comes_is_told():
    found = read(pad("NNAME1"), pad("NNAME2", pin="2"), "C  NNAME1 A_REALLY_LONG_NET_NAME")
    assert found.net_of == {"C1.1": "A_REALLY_LONG_NET_NAME", "C1.2": "NNAME2"}
    assert any("NNAME2 only: 1 long names" in note for note in found.notes)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_kind_and_the_end_mark_of_dos(end):
    lines = (HEAD + "\n".join([pad(), pad("GND", pin="2")]) + "\n999\n").replace("\n", end) + "\x1a"
    found = read_ipc356(lines.encode())
    assert found.net_of == {"C1.1": "VIN", "C1.2": "GND"}
    assert not found.notes


def test_names_in_latin_1_stay_apart():
    """Two nets that differ in one letter only; a stand-in for what is no UTF-8 made one net of them."""
    data = (HEAD + pad("VÄ") + "\n" + pad("VÖ", pin="2") + "\n" + pad("5µ", pin="3") + "\n999\n").encode("latin-1")
    assert read_ipc356(data).net_of == {"C1.1": "VÄ", "C1.2": "VÖ", "C1.3": "5µ"}


def test_a_file_that_was_cut_short_says_so():
    whole = HEAD + "\n".join([pad(), pad("GND", pin="2")]) + "\n"
    assert "cut short" in read_ipc356(whole.encode()).notes[0]
    assert not read_ipc356((whole + "999\n").encode()).notes


def test_parts_whose_names_were_cut_to_one_are_told():
    """Columns 21-26 hold six letters: USBCON1 and USBCON2 are one name in the file."""
    found = read(pad("A", "USBCON", "1"), pad("B", "USBCON", "1"))
    assert any("USBCON.1" in note and "six letters" in note for note in found.notes)


def test_what_is_joined_to_nothing_vias_and_points_midway():
    found = read(pad("N/C"), pad("", pin="2"), pad("GND", "VIA", "", kind="317", drill=24), pad("GND", "U1", "7"))
    assert found.net_of == {"C1.1": None, "C1.2": None, "U1.7": "GND"}
    assert found.vias == 1
    assert found.nets == ("GND",)


def test_a_record_goes_on_with_the_next():
    """Further places of one pad, and an edge too long for a line (from memory: no public sample was found)."""
    more = "027" + " " * 35 + "A02X  20000Y   1450"
    found = read(pad(), more, "389BOARD_EDGE         X0Y0 X22500 Y15000", "089               X0 Y0")
    assert len(found.pads) == 2
    assert found.pads[1].x_mm == pytest.approx(2.0 * INCH_MM)
    corners = [(0.0, 0.0), (57.15, 0.0), (57.15, -38.1), (0.0, -38.1), (0.0, 0.0)]
    assert [tuple(round(v, 6) + 0.0 for v in corner) for corner in found.outline] == corners


def test_sides_and_holes():
    found = read(pad(layer=1), pad(pin="2", layer=4), pad("GND", "J1", "1", kind="317", layer=0, drill=400))
    assert [one.side for one in found.pads] == ["top", "bottom", "top"]
    assert found.pads[2].drill_mm == pytest.approx(1.016)


def test_one_number_on_two_nets_is_two_pins():
    assert read(pad("A"), pad("B")).net_of == {"C1.1": "A", "C1.1+2": "B"}


@pytest.mark.parametrize(
    "bad",
    [
        b"", b"999\n", b"\0", b"327" + b"x" * 500, HEAD.encode() + b"327VIN              C1    -1          A01X  149",
        HEAD.encode() + pad(x="12 x").encode(), b"P  UNITS CUST 7\n" + pad().encode(),
        HEAD.encode() + pad(x=9999999).encode(), HEAD.encode() + (pad() + "\n027").encode() + b"\n027" * 5000,
    ],
)  # fmt: skip
def test_bad_files_are_refused_with_the_reason(bad):
    with pytest.raises(FileFormatError) as told:
        read_ipc356(bad)
    assert told.value.what


@settings(max_examples=120, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 2**32 - 1))
def test_whatever_comes_is_read_or_refused(noise, seed):
    chance = random.Random(seed)
    whole = bytearray((HEAD + "\n".join(pad(pin=str(n)) for n in range(4)) + "\n999\n").encode())
    for _ in range(chance.randint(0, 9)):
        whole[chance.randrange(len(whole))] = chance.choice(b"0123456789XYRDA -\n\tCP\xff")
    for data in (noise, bytes(whole), bytes(whole) + noise):
        try:
            found = read_ipc356(data)
        except FileFormatError:
            continue
        assert len(found.pads) >= len(found.pins) > 0 or found.vias
        assert sum(record_counts(data).values()) > 0
