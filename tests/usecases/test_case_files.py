"""Case files: the documented example, the schema, and files that mean harm."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

from ohmwright.casebook.events import KINDS
from ohmwright.errors import DataError
from ohmwright.formats.case_json import SHORT, case_from_json, case_from_text, case_to_json, read_case_json

DOCS = Path(__file__).parents[2] / "docs"
SCHEMA = json.loads((DOCS / "case.schema.json").read_text())
EXAMPLE = json.loads(re.findall(r"```json\n(.*?)```", (DOCS / "case-format.md").read_text(), re.DOTALL)[0])


def broken(**changes):
    """The example with some fields changed."""
    return {**EXAMPLE, **changes}


def test_example_reads_and_fits_the_schema():
    """The page tells the truth."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(EXAMPLE, SCHEMA)
    start = case_from_json(EXAMPLE)

    assert start.name == "greenhouse lamp driver"
    assert [type(e).__name__ for e in start.entries] == ["SymptomTold", "ReadingRecorded", "LookRecorded"]


def test_written_case_reads_back_the_same_and_fits_the_schema():
    """Out and in again."""
    start = case_from_json(EXAMPLE)
    data = json.loads(json.dumps(case_to_json(start.name, start.board, start.entries)))
    jsonschema.validate(data, SCHEMA)

    assert case_from_json(data) == start


def test_schema_knows_every_kind():
    """A new kind of event goes into the schema too."""
    kinds = set(SHORT) | set(KINDS) - {"case-opened", "undone", "amended"}

    assert set(SCHEMA["properties"]["happened"]["items"]["properties"]["kind"]["enum"]) == kinds


@pytest.mark.parametrize(
    ("data", "where"),
    [
        ([], ""), ({}, ""), (broken(version=2), ""), (broken(extra=1), ""), (broken(symptom="sad"), "symptom"),
        (broken(symptom=[1]), "symptom"), (broken(name=3), "name"), (broken(happened="no"), ""),
        (broken(happened=[3]), "happened[0]"), (broken(happened=[{"kind": "raeding"}]), "happened[0]"),
        (broken(happened=[{"kind": "undone", "sequence": 1}]), "happened[0]"),
        (broken(happened=[{"kind": ["reading"]}]), "happened[0]"),
        (broken(happened=[{"kind": "reading", "quantity": "diode", "red": "VIN", "black": "GND", "value": "4x"}]),
         "happened[0]"),
        (broken(entries=[{"net": "VIN", "label_volts": -5}]), "entries[0]"), (broken(board=3), ""),
    ],
)  # fmt: skip
def test_bad_files_say_where(data, where):
    """What, where, and never a traceback."""
    with pytest.raises(DataError) as caught:
        case_from_json(data)
    assert where in caught.value.where


@pytest.mark.parametrize(
    "raw", [b"", b"{", b"\xff\xfe", b'{"a": NaN}', b"[" * 100_000, b'{"a":' * 5_000, b"1" * 10_000, b" " * 16_000_001]
)
def test_hostile_texts_are_refused(raw):
    """Too deep, too long, or no JSON."""
    with pytest.raises(DataError):
        case_from_text(raw)


def test_file_that_is_not_there(tmp_path):
    """Named in the error."""
    with pytest.raises(DataError, match="cannot be read") as caught:
        read_case_json(tmp_path / "gone.json")
    assert "gone.json" in caught.value.where
