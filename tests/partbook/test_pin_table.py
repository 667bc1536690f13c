"""Pin tables as makers print them and viewers copy them. The layouts are those in print; the parts are ours."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.errors import DataError
from ohmwright.partbook.pin_table import MOST_CHARACTERS, read_pin_table
from ohmwright.partbook.pin_words import DASH, TYPES, is_name, split_pins


def named(text, column=0):
    """Name by pin."""
    return {pin: row.name for row in read_pin_table(text, column).rows for pin in row.pins}


BUCK = {"1": "VIN", "2": "SW", "3": "GND", "4": "GND", "5": "EN/SYNC", "6": "FB"}


@pytest.mark.parametrize(
    "text",
    [
        "1 VIN Power input\n2 SW Switch node\n3, 4 GND Ground\n5 EN/SYNC Enable\n6 FB Feedback",
        "VIN 1 P Supply\nSW 2 O Switch\nGND 3, 4 G Ground\nEN/SYNC 5 I Enable\nFB 6 I Feedback",
        "1\tVIN\tP\tSupply\n2\tSW\tO\tSwitch\n3-4\tGND\tG\tGround\n5\tEN / SYNC\tI\tEnable\n6\tFB(1)\tI\tFeedback",
        "1   VIN    Supply\n2   SW     Switch\n3–4 GND    Ground\n5   EN/SYNC  Enable\n6   FB     Feedback",
        "VIN (Pin 1): Supply.\nSW (Pin 2): Switch.\nGND (Pins 3, 4): Ground.\nEN/SYNC (Pin 5): On.\nFB (Pin 6): Sense.",
        "Pin 1: VIN - supply\nPin 2: SW - switch\nPins 3, 4: GND - ground\nPin 5: EN/SYNC - enable\nPin 6: FB - sense",
        "1\nVIN\nP\nSupply\n2\nSW\nO\nSwitch\n3, 4\nGND\nG\nGround\n5\nEN/SYNC\nI\nEnable\n6\nFB\nI\nFeedback",
        "VIN\n1\nP\nSupply\nSW\n2\nO\nSwitch\nGND\n3, 4\nG\nGround\nEN/SYNC\n5\nI\nEnable\nFB\n6\nI\nFeedback",
        '1,VIN,P,Supply\n2,SW,O,Switch\n"3, 4",GND,G,Ground\n5,EN/SYNC,I,"Enable, or clock"\n6,FB,I,Feedback',
        "| 1 | VIN | Supply |\n|---|---|---|\n| 2 | SW | Switch |\n| 3, 4 | GND | Ground |\n| 5 | EN/SYNC | On |\n"
        "| 6 | FB | Sense |",
        "1 VIN\r\n2 SW\r\n3 and 4 GND\r\n5 EN/SYNC\r\n6 FB\r\n",
    ],
    ids=["number", "name", "tabs", "spaces", "spoken", "spoken-number", "cells", "cells-name", "csv", "bars", "bare"],
)
def test_every_usual_way_of_printing_gives_the_same_pins(text):
    assert named(text) == BUCK


def test_descriptions_over_several_lines_stay_with_their_pin():
    """Also where a line begins with a figure, and where headings and page edges come between."""
    text = """Table 4-1. Pin Functions
PIN NAME TYPE(1) DESCRIPTION
1 VIN P Input supply. Connect a
10 µF ceramic capacitor close to the pin, and
2 A of supply at least.
2 SW O Switch node
Submit Documentation Feedback
Copyright © 2020
Table 4-1. Pin Functions (continued)
PIN NAME TYPE(1) DESCRIPTION
3 EP G Ground"""
    rows = read_pin_table(text).rows
    assert [(row.pins, row.name, row.kind) for row in rows] == [
        (("1",), "VIN", "P"), (("2",), "SW", "O"), (("3",), "EP", "G"),
    ]  # fmt: skip
    assert rows[0].words.endswith("Connect a 10 µF ceramic capacitor close to the pin, and 2 A of supply at least.")


def test_packages_side_by_side_are_told_apart():
    text = "NAME SOIC QFN TYPE DESCRIPTION\nVIN 1 15 P Supply\nNC — 2 — Open\nGND 4 3, EP G Ground\nOUT 8 7-9 O Output"
    table = read_pin_table(text)
    assert table.columns == ("SOIC", "QFN")
    assert named(text, 0) == {"1": "VIN", "4": "GND", "8": "OUT"}
    assert named(text, 1) == {"15": "VIN", "2": "NC", "3": "GND", "EP": "GND", "7": "OUT", "8": "OUT", "9": "OUT"}


def test_names_that_begin_with_a_figure_are_names():
    """As at logic gates: SN74-style 1A, 1B, 1Y."""
    found = named("1 1A Input\n2 1B Input\n3 1Y Output\n4 2A Input\n7 GND Ground\n14 VCC Supply")
    assert found == {"1": "1A", "2": "1B", "3": "1Y", "4": "2A", "7": "GND", "14": "VCC"}


def test_balls_and_names_that_look_like_balls():
    assert named("D0 A1 I/O Data\nD1 A2 I/O Data\nVDD B1, B2 P Supply") == {
        "A1": "D0", "A2": "D1", "B1": "VDD", "B2": "VDD",
    }  # fmt: skip
    assert named("A1\tVDD\tP\tSupply\nA2, B2\tVSS\tG\tGround\nB1\tD0\tI/O\tData") == {
        "A1": "VDD", "A2": "VSS", "B2": "VSS", "B1": "D0",
    }  # fmt: skip


def test_the_pad_under_the_body_has_one_name():
    for words in ("EP", "Exposed Pad", "Thermal pad", "PowerPAD", "Exposed pad (9)"):
        assert "EP" in split_pins(f"3, {words}") or words == "PowerPAD"


def test_what_could_not_be_read_and_what_stands_twice_is_said():
    table = read_pin_table("Some words before.\n1 VIN Supply\n2 SW Switch\n2 BST Boost")
    assert table.unread == ("Some words before.",)
    assert table.doubtful == ("2",)


@pytest.mark.parametrize("text", ["", "   \n", "Hello there, no table.", "\x00\x01", "1\n2\n3", "((((((" * 500])
def test_a_text_without_pins_is_a_clear_error(text):
    with pytest.raises(DataError) as error:
        read_pin_table(text)
    assert "pin" in error.value.what


def test_too_much_text_is_refused():
    with pytest.raises(DataError):
        read_pin_table("1 VIN\n" * MOST_CHARACTERS)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # Two pins to most names, written "1, 2", are no two packages side by side, and the dash parts columns.
        (
            "VA 1, 2 — P Input supply\nVB 3, 4 — P Input supply\nVC 5, 6 — P Input supply\nAA- 7, 8, 9 — P Return",
            {"1": "VA", "2": "VA", "3": "VB", "4": "VB", "5": "VC", "6": "VC", "7": "AA-", "8": "AA-", "9": "AA-"},
        ),
        # VSO and nUM are pins and neither a package nor a heading; NO is the contact of a switch, open at rest.
        (
            "1\nVSO\nP\nInput supply\n2\nNO\nI/O\nContact, open at rest\n3\nnUM\nI\nHold low to stop",
            {"1": "VSO", "2": "NO", "3": "nUM"},
        ),
    ],
)  # fmt: skip
def test_names_that_look_like_something_else(text, wanted):
    assert named(text) == wanted


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=600))
def test_no_text_breaks_the_reader(text):
    """Any text gives a table of sane rows, or the one named error."""
    try:
        table = read_pin_table(text)
    except DataError:
        return
    assert all(row.pins and row.name for row in table.rows)


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="1234,-& EPVINGD()/\t\n|;:", max_size=3000))
def test_hostile_repeats_are_read_in_time(text):
    try:
        read_pin_table(text)
    except DataError:
        return


plain_name = st.from_regex(
    r"\A(V[A-Z]{1,3}[0-9]?|[A-Z]{2,5}_?[0-9]{0,2}|n[A-Z]{2,4}|[A-Z]{2,4}/[A-Z]{2,4}|[A-Z]{2}[+-])\Z"
)
names = st.lists(
    plain_name.filter(lambda n: is_name(n) and n not in TYPES and not DASH.match(n) and split_pins(n) != ("EP",)),
    min_size=3, max_size=14, unique=True,
)  # fmt: skip
kinds = st.sampled_from(["P", "I", "O", "G", "I/O"])
words = st.sampled_from(
    ["Input supply for the converter", "Connect to ground.", "Leave open if unused", "Output of the 3.3 V rail", ""]
)
LAYOUTS = ("number", "name", "tab", "name-tab", "cells", "spoken", "two")


@st.composite
def tables(draw):
    """Pins with names, kinds and descriptions, and the text that a datasheet would make of them."""
    called = draw(names)
    groups, next_pin = [], 1
    for name in called:
        size = draw(st.integers(1, 3))
        groups.append((tuple(str(next_pin + n) for n in range(size)), name, draw(kinds), draw(words)))
        next_pin += size
    layout = draw(st.sampled_from(LAYOUTS))
    head = draw(st.sampled_from(["", "PIN NAME TYPE DESCRIPTION\n", "Table 1. Pin Functions\n"]))
    return {pin: name for pins, name, _, _ in groups for pin in pins}, head + "\n".join(
        _line(layout, *group) for group in groups
    )


def _line(layout, pins, name, kind, text):
    listed = ", ".join(pins)
    return {
        "number": f"{listed} {name} {kind} {text}",
        "name": f"{name} {listed} {kind} {text}",
        "tab": f"{listed}\t{name}\t{kind}\t{text}",
        "name-tab": f"{name}\t{listed}\t{kind}\t{text}",
        "cells": f"{listed}\n{name}\n{kind}\n{text or 'As usual'}",
        "spoken": f"{name} (Pin{'s' if len(pins) > 1 else ''} {listed}): {text or 'As usual'}",
        "two": f"{name} {listed} — {kind} {text}",
    }[layout]


@settings(max_examples=400, deadline=None)
@given(tables())
def test_what_was_printed_is_read_back(case):
    """Pins and names come back whatever the layout, numbers running on as in every package."""
    wanted, text = case
    assert named(text) == wanted, text
