"""``ohmwright part`` from the outside: what is typed and what comes back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.datasheets.layouts import BARE, RULED, datasheet
from tests.partbook.test_neighbours import buck
from typer.testing import CliRunner, Result

from ohmwright import bootstrap
from ohmwright.cli.part import app
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.formats.board_json import board_to_json
from ohmwright.library import installed_libraries

SYMBOLS = Path("/usr/share/kicad/symbols")


@pytest.fixture(autouse=True)
def few_libraries(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One library of two hundred: the whole would take too long for a test."""
    (tmp_path / "lib").mkdir()
    (tmp_path / "lib" / "Regulator_Switching.kicad_sym").symlink_to(SYMBOLS / "Regulator_Switching.kicad_sym")
    few = installed_libraries([tmp_path / "lib"])
    monkeypatch.setattr(bootstrap, "installed_libraries", lambda roots=(): few)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)


def test_index_and_find() -> None:
    assert "land patterns" in run("index").output
    assert "TLV62569DBV" in run("find", "TLV62569DBV").output
    found = json.loads(run("find", "--pins", 5, "--with", "EN,FB,SW", "--json").output)
    assert all({"EN", "FB", "SW"} <= set(part["pins"].values()) for part in found)
    with pytest.raises(DataError, match="Nothing was asked"):
        run("find")


def test_without_libraries_the_rest_works(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(bootstrap, "installed_libraries", lambda roots=(): installed_libraries([tmp_path / "none"]))
    assert "Nothing fits" in run("find", "TLV62569DBV").output
    assert "100 nF" in run("mark", "104").output
    with pytest.raises(DataError) as told:
        run("index")
    assert "kicad-symbols" in told.value.hint


def test_marks_with_readings() -> None:
    out = run("mark", "A1", "--package", "SOT-23", "--reading", "3-1 0.6", "--reading", "1-3 OL", "--json").output
    assert json.loads(out)["parts"][0]["name"] == "BAW56"
    assert "unverified" in run("mark", "24C").output
    assert "17.4 kΩ" in run("mark", "24C").output


def test_a_datasheet_is_shown_and_kept_only_when_asked(tmp_path: Path) -> None:
    datasheet(tmp_path / "part.pdf", RULED, 3)
    shown = run("sheet", tmp_path / "part.pdf").output
    assert "page 1: pins of" in shown
    assert "absolute:" in shown
    assert "Typical Application Circuit" in shown
    assert "Nothing fits" in run("find", "MYPART").output
    run("sheet", tmp_path / "part.pdf", "--keep", "MYPART")
    assert "part.pdf, page 1" in run("find", "MYPART").output
    run("sheet", tmp_path / "part.pdf", "--picture", 1, "--to", tmp_path / "p.png")
    assert (tmp_path / "p.png").read_bytes().startswith(b"\x89PNG")


def test_of_several_packages_one_must_be_chosen(tmp_path: Path) -> None:
    truth = datasheet(tmp_path / "two.pdf", BARE, 100)
    with pytest.raises(DataError, match="2 pin tables fit") as told:
        run("sheet", tmp_path / "two.pdf", "--keep", "P")
    assert truth.packages[0] in told.value.hint
    assert "in your book" in run("sheet", tmp_path / "two.pdf", "--keep", "P", "--package", truth.packages[1]).output


def test_pasted_pins_join_the_book(tmp_path: Path) -> None:
    (tmp_path / "pins.txt").write_text("VIN 1 P Supply\nGND 2 G Ground\nSW 3 O Switch node\n")
    assert "VIN" in run("paste", tmp_path / "pins.txt").output
    run("paste", tmp_path / "pins.txt", "--keep", "QX77", "--source", "maker's page")
    assert "maker's page" in run("find", "QX77").output


def test_around_a_chip_of_a_board_file(tmp_path: Path) -> None:
    (tmp_path / "b.json").write_text(json.dumps(board_to_json(buck())))
    out = run("around", tmp_path / "b.json", "U3").output
    assert "buck regulator" in out
    assert "X2, between the boot pin and the switch pin of U3, is most likely the boot capacitor" in out
    told = run("around", tmp_path / "b.json", "U3", "--saw", "X2=joined").output
    assert "contradiction: X2 reads as joined" in told
    with pytest.raises(UnknownNameError):
        run("around", tmp_path / "b.json", "U3", "--saw", "X2=purple")
    with pytest.raises(UnknownNameError):
        run("around", tmp_path / "b.json", "U99")


def test_inside_and_replace(tmp_path: Path) -> None:
    assert "upper switch" in run("inside", "TLV62569DBV", "--family", "buck").output
    (tmp_path / "stock.json").write_text(
        json.dumps([{"name": "22u 25V", "where": "drawer", "properties": {"rated volts": "25", "capacitance": "22u"}}])
    )
    out = run("replace", "capacitor", "--rail", "19.5", "--value", "22u", "--stock", tmp_path / "stock.json").output
    assert "rated volts is 25, must be at least" in out
    pins = run("replace", "buck", "--old", "TLV62569DBV", "--new", "TLV62569DRL").output
    assert "pin 1 is" in pins
