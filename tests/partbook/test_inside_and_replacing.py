"""Inner structure for the engine, sizing equations against printed examples, and replacement rules."""

from __future__ import annotations

import pytest
from tests.partbook.hidden import hidden
from tests.partbook.test_neighbours import board_of, buck

from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.devices import KINDS, Mode
from ohmwright.diagnosis import diagnose
from ohmwright.facts import Facts, Quantity, Reading
from ohmwright.partbook.chip_readings import read_chips
from ohmwright.partbook.equations import (
    Design,
    boost_inductor,
    buck_coil_worth,
    buck_inductor,
    buck_ripple,
    coil_peak,
    coil_rms,
    divider_output,
    divider_ratio,
)  # fmt: skip
from ohmwright.partbook.informed import informed
from ohmwright.partbook.inside import engine_part, inner_paths
from ohmwright.partbook.replacing import Candidate, Wanted, judged, pin_differences, replacement


def test_equations_give_the_answers_printed_in_datasheets() -> None:
    # TPS54020, SLVSB10F: L 1.07 µH, 10.04 A rms, 11.6 A peak; inputs inferred: 17 V, 1.8 V, 10 A, 500 kHz.
    assert buck_inductor(17.0, 1.8, 10.0, 500e3) == pytest.approx(1.07e-6, rel=5e-3)
    ripple = buck_ripple(17.0, 1.8, 1.0e-6, 500e3)
    assert coil_rms(10.0, ripple) == pytest.approx(10.04, rel=1e-3)
    assert coil_peak(10.0, ripple) == pytest.approx(11.6, rel=2e-3)
    # TPS54531, SLVSBI5B: L 4.8 µH; 28 V, 5 V, 5 A, 570 kHz; 5.03 A rms, 5.96 A peak with 4.7 µH less 20 %.
    assert buck_inductor(28.0, 5.0, 5.0, 570e3) == pytest.approx(4.8e-6, rel=2e-3)
    ripple = buck_ripple(28.0, 5.0, 0.8 * 4.7e-6, 570e3)
    assert coil_rms(5.0, ripple) == pytest.approx(5.03, rel=1e-3)
    assert coil_peak(5.0, ripple) == pytest.approx(5.96, rel=1e-3)
    # Another datasheet (TPS40303) prints 471 nH for 14 V, 1.8 V, 10 A, 1.2 MHz; its own figures give 436 nH.
    assert buck_inductor(14.0, 1.8, 10.0, 1.2e6) == pytest.approx(436e-9, rel=2e-3)
    assert divider_output(0.8, 10.2e3, 3.24e3) == pytest.approx(3.3185, rel=1e-4)
    assert divider_output(0.6, 51.1e3, 25.5e3) == pytest.approx(1.8024, rel=1e-4)
    assert divider_ratio(0.6, 1.8) == pytest.approx(2.0)
    assert boost_inductor(5.0, 12.0, 0.5, 1e6) == pytest.approx(5.0 * 7.0 / (0.3 * 0.5 * 2.4 * 1e6 * 12.0))
    worth = buck_coil_worth(Design(vin=3.3, vout=5.0))
    assert worth is not None
    assert "common practice" in worth.source


def test_the_engine_sees_into_a_buck() -> None:
    board = buck()
    _, readings = read_chips(board)
    part = engine_part(board, "U3", readings)
    assert part.kind == "buck"
    assert {pin.role for pin in part.pins} == {"VIN", "SW", "BOOT", "FB", "EN", "GND"}
    shorts = {frozenset(mode.pins) for mode in KINDS["buck"].modes(part) if mode.mode is Mode.SHORT}
    assert frozenset({"1", "2"}) in shorts  # input to switch node, the upper switch
    assert frozenset({"2", "6"}) in shorts  # switch node to ground, the lower switch


def test_a_chip_of_unsure_family_stays_a_plain_chip() -> None:
    board = buck().with_part(
        Part("U9", "ic", (Pin("1", "D", name="PA7"), Pin("2", "G", name="VSS"), Pin("3", "A", name="VDD")))
    )
    _, readings = read_chips(board)
    part = engine_part(board, "U9", readings)
    assert part.kind == "ic"
    assert [pin.role for pin in part.pins] == ["IO", "GND", "VDD"]


def test_a_boost_conducts_from_its_coil_to_its_output() -> None:
    part = Part(
        "U1", "boost", (Pin("1", "SW", "SW"), Pin("2", "GND", "GND"), Pin("3", "OUT", "OUT"), Pin("4", "VIN", "VIN"))
    )
    elements = {(e.a, e.b): e.label for e in KINDS["boost"].elements(part) if "diode" in e.label}
    assert elements == {("GND", "SW"): "SW low side body diode", ("SW", "OUT"): "SW high side body diode"}
    modes = list(KINDS["boost"].modes(part))
    assert max(modes, key=lambda mode: mode.share).pins == ("1", "2")


@pytest.mark.parametrize(
    ("family", "names", "words"),
    [
        ("buck", ("VIN", "SW", "BST", "VCC", "FB", "GND"), ("lower switch", "upper switch", "bootstrap diode",
        "protection of FB")),
        ("buck-boost", ("VIN", "LX1", "LX2", "VOUT", "GND"), ("input-side lower", "output-side upper")),
        ("charger", ("VBUS", "PMID", "SW", "SYS", "BAT", "GND", "REGN"), ("battery switch", "blocking switch",
        "lower switch")),
        ("linear", ("IN", "OUT", "GND"), ("pass element",)),
    ],
)  # fmt: skip
def test_what_conducts_inside_is_said_with_its_test(
    family: str, names: tuple[str, ...], words: tuple[str, ...]
) -> None:
    found = inner_paths(family, {str(k): name for k, name in enumerate(names, 1)})
    for word in words:
        assert any(word in inner.words for inner in found), word
    assert all(inner.test for inner in found)
    assert {inner.anode for inner in found} | {inner.cathode for inner in found} <= set(names)


def test_a_capacitor_on_a_20_v_rail_needs_35_v() -> None:
    # Trade rule: at most 50 to 60 % of the rating for class 2 on bulk rails, so 20 V wants 33 to 40 V.
    advice = replacement(Wanted("capacitor", "input capacitor", rail=20.0, value=10e-6))
    need = next(n for n in advice.must if n.property == "rated volts")
    assert need.least is not None
    assert 33.0 < need.least < 40.0
    stock = (
        Candidate("10u 25V", "drawer 3", (("rated volts", 25.0), ("capacitance", 10e-6))),
        Candidate("10u 50V", "donor board 12", (("rated volts", 50.0), ("capacitance", 10e-6))),
        Candidate("4.7u 50V", "drawer 3", (("rated volts", 50.0), ("capacitance", 4.7e-6))),
    )
    fit = judged(advice, stock)
    assert [j.candidate.name for j in fit if j.usable] == ["10u 50V"]
    assert "must be at least" in next(j for j in fit if j.candidate.name == "10u 25V").fails[0]


def test_exact_roles_are_kept_exact() -> None:
    boot = next(
        n for n in replacement(Wanted("capacitor", "boot capacitor", value=100e-9)).must if n.property == "capacitance"
    )
    bulk = next(
        n
        for n in replacement(Wanted("capacitor", "output capacitor", value=100e-9)).must
        if n.property == "capacitance"
    )
    assert (boot.least, boot.most) == (pytest.approx(90e-9), pytest.approx(110e-9))
    assert bulk.most == pytest.approx(200e-9)
    sense = next(n for n in replacement(Wanted("sense", value=0.01)).must if n.property == "resistance")
    assert (sense.least, sense.most) == (pytest.approx(0.0099), pytest.approx(0.0101))
    coil = next(
        n for n in replacement(Wanted("coil", value=2.2e-6, amps=4.0)).must if n.property == "saturation current"
    )
    assert coil.least == pytest.approx(5.2)
    assert any("Never a link" in text for text in replacement(Wanted("fuse", value=3.0)).cautions)
    assert all(need.source for kind in KINDS for need in replacement(Wanted(kind)).must)


def test_pin_orders_that_differ_are_told() -> None:
    old, new = {"1": "EN", "2": "GND", "3": "SW"}, {"1": "GND", "2": "EN", "3": "SW", "4": "NC"}
    told = pin_differences(old, new)
    assert told[0] == "pin 1 is EN on the old part and GND on the new one"
    assert any("only on the new part" in line for line in told)
    assert pin_differences(old, {"1": "~{EN}", "2": "gnd", "3": "SW"}) == ()


def test_an_informed_board_puts_its_suspects_inside_the_chip() -> None:
    board = informed(buck())
    assert board.part("U3").kind == "buck"
    assert board.part("X2").could_be[0][0] == "capacitor"
    facts = (Reading(Quantity.DIODE, "B", "A", 0.0), Reading(Quantity.DIODE, "G", "B", 0.43))
    _, diagnosis = diagnose(board, Facts(facts))
    best = diagnosis.suspects[0]
    assert best.part == "U3"
    assert informed(board).part("U3") == board.part("U3")


def test_a_nameless_pin_of_a_chip_on_a_rail_feeds_it_and_a_named_one_stays_what_it_is() -> None:
    """By itself such a chip shows its load, which a chip of signal pins alone would not have: no proof of a leak."""
    pins = (Pin("1", "R", "IO"), Pin("2", "G", "GND"), Pin("3", "S", "IO"), Pin("4", "R2", "IO", name="STRAP"))
    nets = (Net("G"), Net("R", 3.3, rail=True), Net("R2", 1.8, rail=True), Net("S"))
    chip = Part("U9", "ic", pins)
    board = Board("one chip", "G", nets, (chip,))
    fed = informed(board).part("U9")
    assert [pin.role for pin in fed.pins] == ["VDD", "GND", "IO", "IO"]
    by_itself = Reading(Quantity.PART_OHMS, "U9.1", "U9.2", 650.0, BoardState(off=frozenset({"U9"})))
    strays = []
    for known in (board, informed(board)):
        posterior, _ = diagnose(known, Facts((by_itself,)))
        strays.append(float(posterior.joint.stray[0, posterior.class_of[0]]))
    assert strays[0] > 0.9
    assert strays[1] < 0.1


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("pic_programmer/pic_programmer", {"U4": "boost", "U3": "linear"}),
        ("kit-dev-coldfire-xilinx_5213/kit-dev-coldfire-xilinx_5213", {"VR201": "linear"}),
        ("complex_hierarchy/complex_hierarchy", {"U2": "linear"}),
        ("test_xil_95108/carte_test", {"U3": "linear"}),
        ("video/video", {}),
        ("sonde xilinx/sonde xilinx", {}),
    ],
)
def test_chips_of_real_boards_are_opened_up_as_what_they_are(name: str, kinds: dict[str, str]) -> None:
    # By their part numbers: LT1373 is a boost; 7805, LT1129 and 78L05 are linear; nothing else there is a regulator.
    case = hidden(board_of(name))
    opened = informed(case.board)
    known = ("buck", "boost", "buck-boost", "linear", "load-switch", "charger")
    assert {case.real_name[part.name]: part.kind for part in opened if part.kind in known} == kinds
