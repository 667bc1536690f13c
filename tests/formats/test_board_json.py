"""Boards as open JSON: every way of writing them is read, and what is wrong is told with its place."""

from __future__ import annotations

import contextlib
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.circuit import Board, Net, Part, Pin, Place, Rating, Spread
from ohmwright.devices import KINDS
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.formats.board_json import board_from_json, board_to_json, read_board_json

DOCS = Path(__file__).resolve().parents[2] / "docs"
SCHEMA: dict[str, Any] = json.loads((DOCS / "board.schema.json").read_text(encoding="utf-8"))


def example() -> dict[str, Any]:
    text = (DOCS / "board-format.md").read_text(encoding="utf-8")
    found = re.search(r"```json\n(.*?)```", text, re.DOTALL)
    assert found
    data: dict[str, Any] = json.loads(found[1])
    return data


def is_valid(data: object) -> bool:
    """By an implementation of JSON Schema 2020-12 that is not ours."""
    return bool(jsonschema.Draft202012Validator(SCHEMA).is_valid(data))


def test_the_example_of_the_page_is_a_board_and_fits_the_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    board = board_from_json(example())
    assert is_valid(example())
    assert board.part("R1").value == Spread(4700.0)
    assert board.part("C1").rating.volts == 25.0
    assert {"V12", "BELL", "GND"} == set(board.net_by_name)
    assert board.part("D1").pin("1").role == "cathode"
    assert board.part("X1").pin("2").net is None


def test_nets_named_only_at_pins_are_nets() -> None:
    board = board_from_json({"parts": [{"name": "C1", "kind": "capacitor", "pins": ["VX", "GND"]}]})
    assert board.net("VX") == Net("VX")
    assert board.ground == "GND"


def test_a_full_board_comes_back_equal() -> None:
    part = Part(
        "U1", "buck", (Pin("1", "V", "VIN", "PVIN"), Pin("2", None, "SW"), Pin("3", "GND", "GND")),
        Spread(0.6, 0.02, "page 4"), "QFN-16", Rating(28.0, 3.0, "page 2"), Place(1.5, 2.5, "bottom", 3.0, 3.0, 90.0),
        "AB12", (), (("low_side", Spread(0.44, 0.02)),), 2.0, "seen",
    )  # fmt: skip
    other = Part("X1", "unknown-two-pads", (Pin("1", "V"), Pin("2", "GND")), could_be=(("capacitor", 2.0),))
    nets = (Net("GND"), Net("V", 12.0, 16.0, True, 3, "label"))
    board = Board("b", "GND", nets, (part, other), ("V",), 0.1, ("a note",))
    data = json.loads(json.dumps(board_to_json(board)))
    assert board_from_json(data) == board
    assert board_from_json(data).notes == board.notes
    assert is_valid(data)


names = st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=8).filter(lambda s: s.strip())
spreads = st.builds(Spread, st.floats(0, 1e12), st.floats(0, 20), st.text(st.characters(blacklist_categories=("Cs",))))


@st.composite
def boards(draw: st.DrawFn) -> Board:
    nets = draw(st.lists(names, min_size=1, max_size=5, unique=True))
    parts = []
    for name in draw(st.lists(names, max_size=5, unique=True)):
        kind = draw(st.sampled_from(sorted(KINDS)))
        roles = ["", *KINDS[kind].roles]
        count = 2 if not KINDS[kind].roles else draw(st.integers(1, 5))
        net, role = st.sampled_from([*nets, None]), st.sampled_from(roles)
        pins = tuple(Pin(str(i), draw(net), draw(role)) for i in range(count))
        parts.append(Part(name, kind, pins, draw(st.none() | spreads), weight=draw(st.floats(0, 1e6))))
    return Board(
        draw(names), nets[0], tuple(Net(n, rail=draw(st.booleans())) for n in nets), tuple(parts), tuple(nets[:1])
    )


@settings(max_examples=60, deadline=None)
@given(boards())
def test_every_board_comes_back_equal_and_fits_the_schema(board: Board) -> None:
    data = json.loads(json.dumps(board_to_json(board)))
    assert board_from_json(data) == board
    assert is_valid(data)


def broken(path: str, value: object) -> dict[str, Any]:
    data = example()
    here: Any = data
    *way, last = path.split("/")
    for step in way:
        here = here[int(step)] if step.isdigit() else here[step]
    here[int(last) if last.isdigit() else last] = value
    return data


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("parts/2/value", "4k7k"),
        ("parts/2/value", -3),
        ("parts/2/kind", "resister"),
        ("parts/1/pins/0", 7),
        ("parts/2/place/x_mm", 1e9),
        ("parts/2/colour", "red"),
        ("nets/1/rail", "yes"),
        ("parts/4/could_be", {"unknown-two-pads": 1}),
        ("version", 2),
        ("unmapped_share", 3),
    ],
)
def test_what_is_wrong_is_told_with_its_place(path: str, value: object) -> None:
    data = broken(path, value)
    with pytest.raises(DataError) as caught:
        board_from_json(data)
    parent = path.rpartition("/")[0]
    assert parent in caught.value.where
    assert caught.value.hint
    if value != "4k7k":  # the schema does not read quantities written as text
        assert not is_valid(data)


def test_hostile_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "board.json"
    for text in (
        b"[" * 100_000,
        b'{"parts": NaN}',
        b"\xff\xfe",
        b"{",
        b" " * 9_000_000,
        b'{"name": ' + b"9" * 5000 + b"}",
    ):
        path.write_bytes(text)
        with pytest.raises(OhmwrightError) as caught:
            read_board_json(path)
        assert str(path) in caught.value.where
    with pytest.raises(OhmwrightError):
        read_board_json(tmp_path / "absent.json")


@settings(max_examples=80, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(st.sampled_from(["parts", "nets", "name", "kind", "pins", "value"]), inner, max_size=4)
        ),
        max_leaves=20,
    )
)
def test_nothing_but_our_own_errors_comes_out(data: object) -> None:
    with contextlib.suppress(OhmwrightError):
        board_from_json(data)
