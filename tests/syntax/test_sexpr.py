"""The reader of brackets: every text is either read as its grammar says or refused with a line."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ohmwright.errors import FileFormatError
from ohmwright.syntax.sexpr import DEPTH_LIMIT, Sexpr, atom, child, children, parse_sexpr, read_text

atoms = st.text(st.characters(blacklist_categories=["Cs"]), max_size=8)
words = st.text("abcdefgh_+-.0123456789", min_size=1, max_size=8)
trees: st.SearchStrategy[list[Sexpr]] = st.recursive(
    st.builds(lambda head, rest: [head, *rest], words, st.lists(atoms, max_size=3)),
    lambda inner: st.builds(lambda head, rest: [head, *rest], words, st.lists(st.one_of(atoms, inner), max_size=4)),
    max_leaves=20,
)


def written(node: Sexpr) -> str:
    """Our own writer, so that reading can be held against it."""
    if isinstance(node, str):
        escaped = node.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\r", "\\r")
        return '"' + escaped.replace("\t", "\\t") + '"'
    return "(" + " ".join([str(node[0]), *(written(item) for item in node[1:])]) + ")"


@given(trees)
def test_what_is_written_is_read_back(tree: list[Sexpr]) -> None:
    assert parse_sexpr(written(tree)) == tree


@given(trees)
def test_skipped_lists_are_as_if_they_were_not_there(tree: list[Sexpr]) -> None:
    text = written(["top", ["via", tree], "kept", ["via"]])

    assert parse_sexpr(text, skip=frozenset({"via"})) == ["top", "kept"]


def test_words_and_quotes_and_comments() -> None:
    text = '# a comment (\n(kicad_pcb (net 1 "+5 \\"V\\"") (x #notcomment)\n# (another\n (y "a\n# kept\nb"))'

    assert parse_sexpr(text) == ["kicad_pcb", ["net", "1", '+5 "V"'], ["x", "#notcomment"], ["y", "a\n# kept\nb"]]


def test_the_accessors() -> None:
    node = parse_sexpr("(a (b 1) (c) (b 2) x)")

    assert [atom(b) for b in children(node, "b")] == ["1", "2"]
    assert child(node, "d") is None
    assert atom(child(node, "c"), 1, "none") == "none"
    assert atom(None) == ""


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("(a\n(b\n", 3),
        ("(a\n)\n)", 3),
        ('(a\n"never closed', 2),
        ("(" * (DEPTH_LIMIT + 2), 1),
        ("(a\n" + "(b " * (DEPTH_LIMIT + 2), 2),
    ],
)
def test_broken_brackets_are_refused_with_their_line(text: str, line: int) -> None:
    with pytest.raises(FileFormatError) as refused:
        parse_sexpr(text, where="board")

    assert refused.value.where == f"board, line {line}"
    assert refused.value.why
    assert refused.value.hint


@pytest.mark.parametrize("text", ["", "   ", "word", "(a) (b)", "(a) word", '"quoted"'])
def test_a_text_that_is_not_one_list_is_refused(text: str) -> None:
    with pytest.raises(FileFormatError):
        parse_sexpr(text)


def test_depth_counts_in_skipped_branches_too() -> None:
    with pytest.raises(FileFormatError, match="nested"):
        parse_sexpr("(a (via " + "(x " * (DEPTH_LIMIT + 2), skip=frozenset({"via"}))


@given(st.text(st.sampled_from('() "\\#\nab1'), max_size=60))
@settings(max_examples=300)
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(FileFormatError):
        assert isinstance(parse_sexpr(text), list)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "empty"),
        (b" \n ", "empty"),
        (b"(a\n\x00)", "not text"),
        ("(a \u00e9)".encode("latin-1"), "UTF-8"),
        ("(a)".encode("utf-16"), "not text"),
        (bytes(range(1, 256)), "UTF-8"),
    ],
)
def test_files_that_are_no_text_are_refused(tmp_path: Path, raw: bytes, says: str) -> None:
    path = tmp_path / "x.kicad_pcb"
    path.write_bytes(raw)

    with pytest.raises(FileFormatError, match=says):
        read_text(path)


def test_files_too_large_or_missing_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_text("(a)")

    with pytest.raises(FileFormatError, match="more than 2"):
        read_text(path, size_limit=2)
    with pytest.raises(FileFormatError, match="cannot be opened"):
        read_text(tmp_path / "nothing")
    with pytest.raises(FileFormatError, match="cannot be opened"):
        read_text(tmp_path)


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(b"\xef\xbb\xbf(a)")

    assert parse_sexpr(read_text(path)) == ["a"]
