"""JSON text from elsewhere to plain data: size and nesting are checked before the parser meets it."""

from __future__ import annotations

import json
from pathlib import Path

from ohmwright.errors import FileFormatError


def read_json_text(path: Path, *, largest: int, deepest: int) -> object:
    """The plain data in a JSON file.

    Parameters
    ----------
    largest : int
        Most bytes taken from the file. [B]
    deepest : int
        Most levels of brackets. [1]

    Raises
    ------
    FileFormatError
        If the file cannot be read, is too large or too deep, or is not JSON.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(largest + 1)
    except OSError as error:
        raise FileFormatError(
            "The file cannot be read.", where=str(path), why=str(error.strerror), hint="check its name and its rights"
        ) from error
    return parse_json_text(raw, largest=largest, deepest=deepest, where=str(path))


def parse_json_text(raw: bytes, *, largest: int, deepest: int, where: str) -> object:
    """The plain data in JSON text. Limits as in `read_json_text`. [B], [1]"""
    if len(raw) > largest:
        raise FileFormatError(
            f"More than {largest} bytes.", where=where, hint="split it, or leave out what is not ours"
        )
    check_depth(raw, deepest, where)
    try:
        found: object = json.loads(raw.decode("utf-8"), parse_constant=refuse_constant)
    except (ValueError, RecursionError) as error:
        raise FileFormatError(
            "This is not JSON.", where=where, why=str(error), hint="check commas and quotes"
        ) from error
    return found


def check_depth(raw: bytes, deepest: int, where: str) -> None:
    """Refuse deep nesting. Brackets inside texts count too, which does no harm."""
    depth = 0
    for byte in raw:
        if byte in b"[{":
            depth += 1
            if depth > deepest:
                raise FileFormatError("Nested too deeply.", where=where, hint=f"at most {deepest} levels")
        elif byte in b"]}":
            depth -= 1


def refuse_constant(name: str) -> float:
    """Refuse NaN and infinity, which JSON does not know."""
    raise ValueError(f"{name} is not a number that JSON knows")
