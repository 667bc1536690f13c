"""A reader of s-expressions, the bracketed notation of KiCad's files.

No meaning is attached here: a file becomes nested lists of text. Written without recursion, because the
depth of the brackets is the file's choice and the file is hostile until it is read. Branches that the
caller does not want (the copper of a board is nine tenths of its file) are walked over, never built.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TypeAlias

from ohmwright.errors import FileFormatError

Sexpr: TypeAlias = "str | list[Sexpr]"
"""An atom, or a list of expressions."""

SIZE_LIMIT = 200_000_000
"""Largest file read. [bytes] about four times the largest public board we have seen; estimate"""
DEPTH_LIMIT = 200
"""Deepest nesting read. [1] KiCad's own files stay under 20; estimate"""

_TOKEN = re.compile(
    r"""
      \([ \t\r\n]*+([^\s()"#][^\s()]*+)   # 1: an opening bracket and the word after it
    | (\))                                # 2
    | "([^"\\]*+(?:\\.[^"\\]*+)*+)"       # 3: quoted text
    | ([^\s()"][^\s()]*+)                 # 4: a bare word
    | (\()                                # 5: a bracket that no word follows
    | (")                                 # 6: a quotation mark that never ends
    """,
    re.VERBOSE | re.DOTALL,
)
_OPEN, _CLOSE, _QUOTED, _WORD, _BARE_OPEN, _LOOSE_QUOTE = range(1, 7)
_COMMENT_LINE = re.compile(r"^[ \t]*#[^\n]*", re.MULTILINE)
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_ESCAPED = {"n": "\n", "t": "\t", "r": "\r"}


def read_text(path: Path | str, *, size_limit: int = SIZE_LIMIT) -> str:
    """The text of a file that claims to be UTF-8 text, or a clear error.

    Parameters
    ----------
    path : Path or str
    size_limit : int
        Files larger than this are refused before they are opened. [bytes]

    Raises
    ------
    FileFormatError
        If there is no such file, or it is too large, empty, or not text.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        if size > size_limit:
            raise FileFormatError(
                f"The file has {size} bytes; more than {size_limit} are not read.",
                where=str(path),
                hint="check that this is the file you meant",
            )
        raw = path.read_bytes()
    except OSError as trouble:
        raise FileFormatError(
            f"The file cannot be opened: {trouble.strerror or trouble}.", where=str(path), hint="check the path"
        ) from trouble
    return _decoded(raw, str(path))


def parse_sexpr(text: str, *, where: str = "", skip: frozenset[str] = frozenset()) -> list[Sexpr]:
    """The one expression that a text holds.

    Parameters
    ----------
    text : str
    where : str
        Name of the file, for errors.
    skip : frozenset of str
        First words of lists that are left out of the result, with everything below them.

    Raises
    ------
    FileFormatError
        With the line number, if brackets or quotation marks do not match, if the nesting is deeper than
        `DEPTH_LIMIT`, or if there is no expression or more than one.

    Examples
    --------
    >>> parse_sexpr('(net 1 "+5 V" (pads 3) (via 7))', skip=frozenset({"via"}))
    ['net', '1', '+5 V', ['pads', '3']]
    """
    if "#" in text:
        text = _without_comment_lines(text)
    return _tree(text, where, skip)


def children(node: list[Sexpr], head: str) -> Iterator[list[Sexpr]]:
    """The lists directly below a node that begin with that word."""
    for child in node:
        if isinstance(child, list) and child and child[0] == head:
            yield child


def child(node: list[Sexpr], head: str) -> list[Sexpr] | None:
    """The first list directly below a node that begins with that word."""
    return next(children(node, head), None)


def atom(node: list[Sexpr] | None, index: int = 1, default: str = "") -> str:
    """The word at a position of a node, or the default where there is none."""
    if node is not None and index < len(node):
        found = node[index]
        if isinstance(found, str):
            return found
    return default


def _tree(text: str, where: str, skip: frozenset[str]) -> list[Sexpr]:
    root: list[Sexpr] = []
    node, open_nodes, skipped = root, [root], 0
    for match in _TOKEN.finditer(text):
        token = match.lastindex
        if token == _CLOSE:
            if skipped:
                skipped -= 1
                continue
            if len(open_nodes) == 1:
                raise _broken("A closing bracket has no opening one.", text, match.start(), where)
            open_nodes.pop()
            node = open_nodes[-1]
        elif token in (_OPEN, _BARE_OPEN):
            if len(open_nodes) + skipped > DEPTH_LIMIT:
                raise _broken(f"Brackets are nested more than {DEPTH_LIMIT} deep.", text, match.start(), where)
            if skipped or match[1] in skip:
                skipped += 1
                continue
            fresh: list[Sexpr] = [match[1]] if token == _OPEN else []
            node.append(fresh)
            open_nodes.append(fresh)
            node = fresh
        elif token == _LOOSE_QUOTE:
            raise _broken("A quotation mark is never closed.", text, match.start(), where)
        elif not skipped:
            node.append(match[4] if token == _WORD else _unescaped(match[3]))
    if len(open_nodes) + skipped > 1:
        missing = len(open_nodes) + skipped - 1
        raise _broken(f"The file ends with {missing} brackets still open.", text, len(text), where)
    return _only_list(root, text, where)


def _only_list(root: list[Sexpr], text: str, where: str) -> list[Sexpr]:
    if len(root) != 1 or not isinstance(root[0], list):
        raise FileFormatError(
            "The file is not one bracketed expression.",
            where=f"{where}, line 1".lstrip(", "),
            why=f"it begins with {text[:40]!r}" if text.strip() else "it is empty",
            hint="check that this is a KiCad file, saved by KiCad",
        )
    return root[0]


def _unescaped(quoted: str) -> str:
    if "\\" not in quoted:
        return quoted
    return _ESCAPE.sub(lambda found: _ESCAPED.get(found[1], found[1]), quoted)


def _without_comment_lines(text: str) -> str:
    """Lines whose first mark is # are comments, unless the line is inside quoted text."""
    pieces, kept = [], 0
    for comment in _COMMENT_LINE.finditer(text):
        before = text[kept : comment.start()]
        unescaped = before.replace("\\\\", "").replace('\\"', "")
        if unescaped.count('"') % 2 == 0:
            pieces.append(before)
            kept = comment.end()
    return "".join([*pieces, text[kept:]])


def _decoded(raw: bytes, where: str) -> str:
    if not raw.strip():
        raise FileFormatError("The file is empty.", where=where, hint="export or copy it again")
    if b"\0" in raw:
        line = raw[: raw.index(b"\0")].count(b"\n") + 1
        raise FileFormatError(
            "The file is not text.", where=f"{where}, line {line}", why="it holds zero bytes", hint="check the file"
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = raw[: trouble.start].count(b"\n") + 1
        raise FileFormatError(
            "The file is not UTF-8 text.",
            where=f"{where}, line {line}",
            why=f"byte {raw[trouble.start]:#04x} cannot stand there",
            hint="save it again in its own program, or convert it to UTF-8",
        ) from trouble


def _broken(what: str, text: str, position: int, where: str) -> FileFormatError:
    line = text.count("\n", 0, position) + 1
    return FileFormatError(
        what,
        where=f"{where}, line {line}".lstrip(", "),
        why="the file is cut off, damaged, or not an s-expression",
        hint="export or copy it again, then read it again",
    )
