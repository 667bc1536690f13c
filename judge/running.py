"""A run in progress: every answered question is on disk before the next, so that a killed run can go on."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

UNFINISHED = ".unfinished.jsonl"
FREE = ("jobs", "count", "families", "note", "minutes")
"""Settings that may differ between a run and its continuation: they do not change a question's answer."""
SOURCES = ("engine sha256", "judge sha256", "costs sha256", "habit sha256")


class CannotResume(ValueError):
    """There is nothing to go on with, or it would not be the same run."""


class Running:
    """The rows of a run as they come, in a file of one line each behind a line with the head."""

    def __init__(self, path: Path, head: Mapping[str, Any], rows: Sequence[Mapping[str, Any]] = ()) -> None:
        self.path, self.head, self.rows = path, dict(head), [dict(row) for row in rows]

    @classmethod
    def begun(cls, head: Mapping[str, Any], name: str, folder: Path) -> Running:
        """A new one; a name that is taken gets a number."""
        folder.mkdir(parents=True, exist_ok=True)
        base = f"{str(head['date'])[:10]}-{str(head['commit'])[:8]}-{name}"
        number, path = 1, folder / f"{base}{UNFINISHED}"
        while path.exists():
            number += 1
            path = folder / f"{base}-{number}{UNFINISHED}"
        with path.open("x", encoding="utf-8") as file:
            file.write(json.dumps({"run": dict(head)}, default=str) + "\n")
        return cls(path, head)

    @classmethod
    def resumed(cls, head: Mapping[str, Any], name: str, folder: Path) -> Running:
        """The newest unfinished one of that name.

        Raises
        ------
        CannotResume
            Where there is none, or where sources or questions are not what they were.
        """
        found = sorted(folder.glob(f"*{UNFINISHED}"), key=lambda path: (path.stat().st_mtime_ns, len(path.name)))
        found = [path for path in found if re.fullmatch(rf"[-\d]{{10}}-\w{{8}}-{re.escape(name)}(-\d+)?", _stem(path))]
        if not found:
            raise CannotResume(f"no unfinished run {name!r} in {folder.name}: leave --resume out to begin one")
        kept, rows = read_running(found[-1])
        _same(kept, head, found[-1].name)
        if not found[-1].read_bytes().endswith(b"\n"):
            with found[-1].open("a", encoding="utf-8") as file:
                file.write("\n")
        return cls(found[-1], kept, rows)

    @property
    def done(self) -> frozenset[str]:
        """Keys of the questions answered."""
        return frozenset(str(row["key"]) for row in self.rows)

    def add(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Keep the rows of one question, on disk before anything else happens."""
        with self.path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(list(rows), default=str) + "\n")
        self.rows += [dict(row) for row in rows]

    def finished(self) -> None:
        """The result is written: the file of the run in progress goes."""
        self.path.unlink(missing_ok=True)


def _stem(path: Path) -> str:
    return path.name.removesuffix(UNFINISHED)


def read_running(path: Path) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Head and rows of an unfinished run; a last line cut short by a kill is left out."""
    lines = path.read_text(encoding="utf-8").split("\n")
    head: dict[str, Any] = json.loads(lines[0])["run"]
    rows: list[dict[str, Any]] = []
    for line in lines[1:]:
        try:
            rows += json.loads(line)
        except ValueError:
            continue
    return head, rows


def _same(kept: Mapping[str, Any], now: Mapping[str, Any], name: str) -> None:
    changed = [source for source in SOURCES if kept.get(source) != now.get(source)]
    if changed:
        what = ", ".join(word.removesuffix(" sha256") for word in changed)
        raise CannotResume(
            f"{name} is of commit {str(kept['commit'])[:12]}, and since then changed: {what}. Check that commit out "
            "to go on, or leave --resume out to begin a new run"
        )
    before, after = (json.loads(json.dumps(head["settings"], default=str)) for head in (kept, now))
    free = (*FREE, *(("seed",) if before.get("seed from commit") and after.get("seed from commit") else ()))
    other = [key for key in before | after if key not in free and before.get(key) != after.get(key)]
    if other:
        told = ", ".join(f"{key} was {before.get(key)} and is {after.get(key)}" for key in other)
        raise CannotResume(f"{name} asks other questions: {told}")
