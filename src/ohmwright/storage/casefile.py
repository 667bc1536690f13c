"""The store: every event is on the disk before it is acknowledged, and nothing is ever changed in place.

WAL with ``synchronous=FULL`` makes SQLite wait for the disk at each commit, so an acknowledged event
survives ``kill -9`` and power loss (SQLite documentation, "Write-Ahead Logging" and "PRAGMA synchronous").
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError, IntegrityError, OperationalError
from sqlalchemy.pool import NullPool

from ohmwright.casebook import Event, Happening, event_from_json, json_of
from ohmwright.errors import CaseConflictError, DataError, FileFormatError, UnknownNameError
from ohmwright.storage.tables import blobs, cases, events

APPLICATION = 0x4F484D57
"""Marks a SQLite file as ours ("OHMW"), so that another program's is never written to. [1]"""
NEWEST = "s0001"
"""The newest shape of the store."""


class CaseFile:
    """Cases in one SQLite file; made when it is not there yet."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise DataError(
                "The folder for the cases cannot be made.", where=str(path.parent), why=str(error),
                hint="name another file with --cases",
            ) from error  # fmt: skip
        self._engine = sa.create_engine(f"sqlite:///{path}", poolclass=NullPool, connect_args={"timeout": 10})
        sa.event.listen(self._engine, "connect", _prepare)
        try:
            self._open()
        except (DatabaseError, OperationalError) as error:
            raise _unreadable(path, error) from error

    def _open(self) -> None:
        with self._engine.connect() as connection:
            mark = connection.exec_driver_sql("PRAGMA application_id").scalar()
            names = set(sa.inspect(connection).get_table_names())
            if names and mark != APPLICATION:
                raise FileFormatError(
                    "This file is another program's database.", where=str(self.path),
                    why="it holds tables and does not carry the mark of ohmwright",
                    hint="name another file with --cases",
                )  # fmt: skip
            if "alembic_version" in names:
                shape = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
                if shape == NEWEST:
                    return
        self._upgrade()

    def _upgrade(self) -> None:
        # only a store of another shape pays for loading it
        from alembic import command
        from alembic.config import Config

        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
        with self._engine.begin() as connection:
            # Two programs starting at once must not both make the tables.
            connection.exec_driver_sql("BEGIN IMMEDIATE")
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION}")
            config.attributes["connection"] = connection
            command.upgrade(config, "head")

    def open_case(self, name: str, at: str, author: str, what: Happening) -> None:
        """Begin a case with its first event."""
        try:
            with self._writing() as connection:
                row = connection.execute(sa.insert(cases).values(name=name, opened_at=at))
                number = row.inserted_primary_key[0]
                connection.execute(sa.insert(events), [_row(number, Event(1, at, author, what))])
        except IntegrityError as error:
            raise CaseConflictError(
                f"There is a case called {name!r} already.", where=str(self.path), hint="choose another name"
            ) from error

    def append(self, name: str, expected: int, new: Sequence[Event]) -> None:
        """Add events after the one numbered `expected`; returns once they are on the disk.

        Raises
        ------
        CaseConflictError
            If somebody else wrote to the case since.
        """
        try:
            with self._writing() as connection:
                number = self._number(connection, name)
                last = connection.execute(
                    sa.select(sa.func.max(events.c.sequence)).where(events.c.case_id == number)
                ).scalar_one()
                if last != expected:
                    raise _conflict(name, expected, last)
                connection.execute(sa.insert(events), [_row(number, event) for event in new])
        except IntegrityError as error:
            raise _conflict(name, expected, None) from error
        except OperationalError as error:
            raise DataError(
                "The case could not be written, so nothing of this entry was recorded.", where=str(self.path),
                why=str(error.orig), hint="check for free space and for another program using the file",
            ) from error  # fmt: skip

    def events(self, name: str, after: int = 0) -> tuple[Event, ...]:
        """All events of a case, in order; or those after the one numbered `after`. [1]"""
        try:
            with self._engine.connect() as connection:
                number = self._number(connection, name)
                of_case = (events.c.case_id == number) & (events.c.sequence > after)
                query = sa.select(events).where(of_case).order_by(events.c.sequence)
                rows = connection.execute(query).all()
        except DatabaseError as error:
            raise _unreadable(self.path, error) from error
        return tuple(_event(row, f"{self.path}, case {name}, event {row.sequence}") for row in rows)

    def cases(self) -> tuple[tuple[str, str, int], ...]:
        """Name, time of opening and number of events of each case, newest first."""
        query = (
            sa.select(cases.c.name, cases.c.opened_at, sa.func.max(events.c.sequence))
            .join(events)
            .group_by(cases.c.id)
            .order_by(cases.c.id.desc())
        )
        with self._engine.connect() as connection:
            return tuple((str(r[0]), str(r[1]), int(r[2])) for r in connection.execute(query))

    def keep_blob(self, content: bytes) -> str:
        """Store bytes under the SHA-256 of their content, which is returned."""
        digest = hashlib.sha256(content).hexdigest()
        with self._writing() as connection:
            insert = sa.insert(blobs).prefix_with("OR IGNORE")
            connection.execute(insert.values(sha256=digest, content=content))
        return digest

    def blob(self, digest: str) -> bytes:
        """The bytes of that SHA-256."""
        with self._engine.connect() as connection:
            found = connection.execute(sa.select(blobs.c.content).where(blobs.c.sha256 == digest)).scalar()
        if found is None:
            raise UnknownNameError.among("stored picture or paper", digest, ())
        return bytes(found)

    def _writing(self) -> Any:
        return self._engine.begin()

    def _number(self, connection: sa.Connection, name: str) -> int:
        found = connection.execute(sa.select(cases.c.id).where(cases.c.name == name)).scalar()
        if found is None:
            known = connection.execute(sa.select(cases.c.name)).scalars().all()
            raise UnknownNameError.among("case", name, known, where=str(self.path))
        return int(found)


def _prepare(connection: Any, _record: object) -> None:
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.close()


def _row(number: int, event: Event) -> dict[str, Any]:
    body = json_of(event.what)
    return {
        "case_id": number, "sequence": event.sequence, "kind": body["kind"], "version": body["version"],
        "at": event.at, "author": event.author, "body": json.dumps(body, ensure_ascii=False),
    }  # fmt: skip


def _event(row: Any, where: str) -> Event:
    try:
        body = json.loads(row.body)
    except ValueError as error:
        raise FileFormatError("This stored event is damaged.", where=where, hint="restore a backup") from error
    line = {"sequence": row.sequence, "at": row.at, "author": row.author, "what": body}
    return event_from_json(line, where=where)


def _conflict(name: str, expected: int, last: int | None) -> CaseConflictError:
    return CaseConflictError(
        f"Somebody else wrote to the case {name!r} first.",
        why=f"your entry was made after event {expected}" + (f", the case is at {last}" if last else ""),
        hint="look at the case again, then enter it again if it still holds",
    )


def _unreadable(path: Path, error: Exception) -> FileFormatError:
    return FileFormatError(
        "The file with the cases cannot be read.",
        where=str(path), why=str(getattr(error, "orig", error)),
        hint="if it was copied while in use, restore a backup; or name another file with --cases",
    )  # fmt: skip
