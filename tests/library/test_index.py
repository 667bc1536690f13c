"""The index over Debian's kicad-symbols and kicad-footprints, and over libraries written here."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from ohmwright.errors import DataError, FileFormatError
from ohmwright.library import Found, LibraryIndex, OwnBook, Pinned, build_index, installed_libraries
from ohmwright.library.fold import folded, likeness
from ohmwright.library.symbols import read_land, read_symbols
from ohmwright.syntax.sexpr import atom, child, children, parse_sexpr, read_text

SYMBOLS = Path("/usr/share/kicad/symbols")
LANDS = Path("/usr/share/kicad/footprints")


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LibraryIndex]:
    """A tenth of the libraries: the whole takes too long for a test."""
    root = tmp_path_factory.mktemp("kicad")
    for name in ("Regulator_Switching", "Regulator_Linear", "Battery_Management", "Interface_USB", "Power_Management"):
        (root / f"{name}.kicad_sym").symlink_to(SYMBOLS / f"{name}.kicad_sym")
    (root / "Package_TO_SOT_SMD.pretty").symlink_to(LANDS / "Package_TO_SOT_SMD.pretty")
    path = root / "index.sqlite"
    assert build_index(path, installed_libraries([root])) == ()
    found = LibraryIndex(path)
    yield found
    found.close()


def test_the_scan_agrees_with_the_full_reader() -> None:
    # Oracle: our own s-expression reader, which parses everything.
    for name in ("Regulator_Switching", "74xx", "MCU_Module"):
        tree = parse_sexpr(read_text(SYMBOLS / f"{name}.kicad_sym"))
        full = {}
        for node in children(tree, "symbol"):
            pins = []
            for pin in (pin for unit in children(node, "symbol") for pin in children(unit, "pin")):
                label = atom(child(pin, "name"))
                pins.append(Pinned(atom(child(pin, "number")), "" if label == "~" else label, atom(pin, 1)))
            told = {atom(p, 1): atom(p, 2) for p in children(node, "property")}
            full[atom(node, 1)] = (tuple(dict.fromkeys(pins)), told.get("Footprint", ""), atom(child(node, "extends")))
        scanned = {s.name: (s.pins, s.footprint, s.base) for s in read_symbols(SYMBOLS / f"{name}.kicad_sym")}
        assert scanned == full


def test_land_patterns_count_pads_as_the_full_reader_does() -> None:
    for file in sorted((LANDS / "Package_SO.pretty").glob("*.kicad_mod"))[:60]:
        tree = parse_sexpr(read_text(file))
        numbers = {atom(p, 1) for p in children(tree, "pad") if atom(p, 2) != "np_thru_hole"} - {""}
        assert read_land(file).n_pads == len(numbers), file.name


def test_found_by_name_by_a_part_of_it_and_badly_read(index: LibraryIndex) -> None:
    assert index.find("TLV62569DBV")[0].name == "TLV62569DBV"
    assert index.find("tlv62569")[0].name.startswith("TLV62569")
    assert index.find("8Q24O75")[0].name.startswith("BQ24075")
    found = index.find("TLV62569DBV")[0]
    # TI SLVSDG1, pin functions of the DBV package: 1 EN, 2 GND, 3 SW, 4 VIN, 5 FB (from memory).
    assert found.names == {"1": "EN", "2": "GND", "3": "SW", "4": "VIN", "5": "FB"}
    assert "Regulator_Switching" in found.source


def test_a_symbol_that_extends_another_has_its_pins(index: LibraryIndex) -> None:
    assert len(index.find("LM2596S-5")[0].pins) >= 5


def test_found_by_pins(index: LibraryIndex) -> None:
    for found in index.find(n_pins=5, pin_names=["EN", "FB", "SW"]):
        assert {"EN", "FB", "SW"} <= {pin.name.strip("~{}") for pin in found.pins}
        assert len({pin.number for pin in found.pins}) in (5, 6)
    assert index.find(words="buck", n_pins=8)
    with pytest.raises(DataError, match="Nothing was asked"):
        index.find()


def test_land_patterns_by_pads(index: LibraryIndex) -> None:
    assert {land.n_pads for land in index.lands("SOT-23-5", n_pads=5)} == {5}
    assert index.lands("100%_", n_pads=5) == ()


def test_an_index_knows_when_libraries_changed(tmp_path: Path) -> None:
    lib = tmp_path / "own.kicad_sym"
    lib.write_text(
        '(kicad_symbol_lib (version 1) (symbol "A" (symbol "A_1_1" (pin input line (name "X") (number "1")))))'
    )
    build_index(tmp_path / "i.sqlite", installed_libraries([tmp_path]))
    index = LibraryIndex(tmp_path / "i.sqlite")
    assert index.is_fresh(installed_libraries([tmp_path]))
    assert index.find("A")[0].pins == (Pinned("1", "X", "input"),)
    (tmp_path / "two.kicad_sym").write_text("(kicad_symbol_lib (version 1))")
    assert not index.is_fresh(installed_libraries([tmp_path]))


def test_a_bad_library_is_told_and_the_rest_is_read(tmp_path: Path) -> None:
    (tmp_path / "bad.kicad_sym").write_text("nothing of the kind")
    (tmp_path / "good.kicad_sym").write_text(
        '(kicad_symbol_lib (version 1) (symbol "ABC12" (property "Reference" "U")))'
    )
    told = build_index(tmp_path / "i.sqlite", installed_libraries([tmp_path]))
    assert told == ("bad.kicad_sym: This is not a KiCad symbol library.",)
    assert LibraryIndex(tmp_path / "i.sqlite").find("ABC12")
    with pytest.raises(FileFormatError):
        read_symbols(tmp_path / "bad.kicad_sym")


def test_without_an_index_the_way_to_one_is_said(tmp_path: Path) -> None:
    with pytest.raises(DataError) as told:
        LibraryIndex(tmp_path / "none.sqlite")
    assert "ohmwright part index" in told.value.hint
    (tmp_path / "junk.sqlite").write_bytes(b"not a database" * 100)
    with pytest.raises(DataError, match="cannot be read"):
        LibraryIndex(tmp_path / "junk.sqlite")


def test_words_inside_texts_are_no_pins(tmp_path: Path) -> None:
    text = '(kicad_symbol_lib (symbol "A" (property "D" "x (pin input line (name \\"N\\") (number \\"9\\"))")))'
    (tmp_path / "t.kicad_sym").write_text(text)
    assert read_symbols(tmp_path / "t.kicad_sym")[0].pins == ()


def test_likeness_orders_as_a_reader_would() -> None:
    asked = folded("BQ24075")
    assert likeness(asked, folded("BQ24075")) == 1.0
    assert (
        likeness(asked, folded("BQ24075RGT")) > likeness(asked, folded("BQ24072RGT")) > likeness(asked, folded("LM317"))
    )


def test_the_own_book_keeps_parts_with_source_and_page(tmp_path: Path) -> None:
    book = OwnBook(tmp_path / "book.sqlite")
    part = Found("QX4054", "datasheet qx4054.pdf, page 3", pins=(Pinned("1", "CHRG"), Pinned("2", "GND")))
    book.add(part)
    book.close()
    again = OwnBook(tmp_path / "book.sqlite")
    assert again.find("qx4O54") == (part,)
    assert again.find(n_pins=2, pin_names=["chrg"]) == (part,)
    again.remove("QX4054")
    assert again.find("QX4054") == ()
    with pytest.raises(DataError, match="where it is from"):
        again.add(Found("X", "", pins=(Pinned("1", "A"),)))


def test_the_book_leaves_other_files_alone(tmp_path: Path) -> None:
    import sqlite3

    with sqlite3.connect(tmp_path / "other.sqlite") as db:
        db.execute("CREATE TABLE t (x)")
    with pytest.raises(DataError, match="another program"):
        OwnBook(tmp_path / "other.sqlite")
