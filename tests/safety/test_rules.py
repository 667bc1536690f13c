"""What may be fed, and what not. Thresholds are common practice (no source) unless named."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.small_board import small_board

from ohmwright.circuit import BoardState, Feed, Net, Part, Pin
from ohmwright.facts import EntryFact, Facts, Override, Quantity, Reading
from ohmwright.safety import Permit, Refusal, permit

KNOWN = (EntryFact("VIN", 12.0, polarity_measured=True, battery_off=True),)
COIL_CHECKED = (Reading(Quantity.OHMS, "VIN", "SW", 9000.0),)


def gate(facts: Facts, feed: Feed, board=None) -> str:  # type: ignore[no-untyped-def]  # board is optional here
    answer = permit(board or small_board(), facts, feed)
    return "" if isinstance(answer, Permit) else answer.gate


def test_a_refusal_is_false_and_a_permit_is_true() -> None:
    assert not permit(small_board(), Facts(), Feed("VIN", "GND", 0.5, 1.0))
    assert permit(small_board(), Facts(entries=KNOWN), Feed("VIN", "GND", 0.5, 1.0))


@pytest.mark.parametrize(
    ("entry", "volts", "expected"),
    [
        (EntryFact("VIN", 12.0, True, battery_off=False), 0.5, "battery"),
        (EntryFact("VIN", 12.0, False, True), 12.0, "polarity"),
        (EntryFact("VIN", None, True, True), 12.0, "label"),
        (EntryFact("VIN", 12.0, True, True), 12.0, "coils"),
        (EntryFact("VIN", 5.0, True, True), 12.0, "rating"),
        (EntryFact("VIN", 12.0, True, True), 61.0, "over 60 V"),
        (EntryFact("VIN", 12.0, True, True), 0.8, ""),
    ],
)
def test_gates_at_the_entry(entry: EntryFact, volts: float, expected: str) -> None:
    """60 V DC is the limit of ES1 in IEC 62368-1 (from memory)."""
    assert gate(Facts(entries=(entry,)), Feed("VIN", "GND", volts, 0.5)) == expected


def test_the_coil_check_opens_the_way_only_when_it_reads_high() -> None:
    feed = Feed("VIN", "GND", 12.0, 0.5)
    assert gate(Facts(entries=KNOWN, readings=COIL_CHECKED), feed) == ""
    joined = (Reading(Quantity.OHMS, "VIN", "SW", 1.2),)
    assert gate(Facts(entries=KNOWN, readings=joined), feed) == "input joined to a coil"


def test_a_joined_coil_cannot_be_overruled() -> None:
    joined = (Reading(Quantity.OHMS, "VIN", "SW", 1.2),)
    facts = Facts(entries=KNOWN, readings=joined, overrides=(Override("input joined to a coil", "in a hurry"),))
    assert gate(facts, Feed("VIN", "GND", 12.0, 0.5)) == "input joined to a coil"


def test_hidden_coils_limit_the_volts_until_a_reason_is_on_record() -> None:
    board = replace(small_board(), unmapped_share=0.3)
    facts = Facts(entries=KNOWN, readings=COIL_CHECKED)
    feed = Feed("VIN", "GND", 12.0, 0.5)
    assert gate(facts, feed, board) == "coils not all found"
    reason = (Override("coils not all found", "both sides looked over, one coil on the board"),)
    assert gate(replace(facts, overrides=reason), feed, board) == ""
    assert (
        gate(replace(facts, overrides=(Override("coils not all found", "  "),)), feed, board) == "coils not all found"
    )


def test_a_rail_is_not_fed_above_what_works_on_it() -> None:
    facts = Facts(entries=KNOWN)
    assert gate(facts, Feed("V33", "GND", 3.3, 0.5)) == ""
    assert gate(facts, Feed("V33", "GND", 5.0, 0.5)) == "rating"


def test_a_body_diode_carries_volts_to_a_weaker_rail() -> None:
    """Reaching an unnamed rail through a FET's body diode counts as 0.8 V."""
    board = small_board()
    weak = Part("Q9", "fet-n", (Pin("1", "G9", "gate"), Pin("2", "V33", "source"), Pin("3", "VX", "drain")))
    load = Part("U9", "ic", (Pin("1", "VX", "VDD"), Pin("2", "GND", "GND")))
    board = replace(board, nets=(*board.nets, Net("VX"), Net("G9")), parts=(*board.parts, weak, load))
    answer = permit(board, Facts(entries=KNOWN), Feed("V33", "GND", 3.3, 0.5))
    assert isinstance(answer, Refusal)
    assert answer.gate == "rating"
    assert "VX" in answer.reason


def test_a_bypassed_fuse_stops_every_feed() -> None:
    state = BoardState(bridges=frozenset({("F1.1", "F1.2")}))
    assert gate(Facts(entries=KNOWN, state=state), Feed("VIN", "GND", 0.5, 0.5)) == "fuse"


def test_current_is_not_raised_to_burn_a_short_out() -> None:
    assert gate(Facts(entries=KNOWN), Feed("V33", "GND", 0.5, 20.0)) == "limit"


def test_notices_name_eyes_and_defer_to_local_rules() -> None:
    answer = permit(small_board(), Facts(entries=KNOWN), Feed("V33", "GND", 0.5, 1.0))
    assert isinstance(answer, Permit)
    eyes = next(notice for notice in answer.notices if notice.code == "eyes")
    assert "Local rules" in eyes.text


def test_a_board_with_a_cell_brings_the_cell_notice() -> None:
    board = small_board()
    cell = Part(
        "U8",
        "charger",
        (Pin("1", "VF", "VIN"), Pin("2", "GND", "GND"), Pin("3", "V33", "SYS"), Pin("4", "BATP", "BAT")),
    )
    board = replace(board, nets=(*board.nets, Net("BATP", rated=4.4)), parts=(*board.parts, cell))
    answer = permit(board, Facts(entries=KNOWN), Feed("V33", "GND", 0.5, 1.0))
    assert isinstance(answer, Permit)
    assert "cell" in {notice.code for notice in answer.notices}
