"""One suite for every store, and what only a file can promise."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.casebook.boards import two_capacitors

import ohmwright
from ohmwright.casebook import CaseOpened, Event
from ohmwright.casebook import events as h
from ohmwright.errors import CaseConflictError, DataError, FileFormatError, UnknownNameError
from ohmwright.storage import MemoryCases
from ohmwright.storage.casefile import CaseFile


@pytest.fixture(params=["file", "memory"])
def store(request, tmp_path):
    """A store with one case in it."""
    made = CaseFile(tmp_path / "cases.sqlite") if request.param == "file" else MemoryCases()
    made.open_case("lamp", "t", "kim", CaseOpened(two_capacitors()))
    return made


def test_events_come_back_in_order(store):
    """And equal to what was written."""
    events = [Event(n, "t", "kim", h.PartTakenOff(f"C{n}")) for n in (2, 3)]
    store.append("lamp", 1, events)

    assert list(store.events("lamp")) == [Event(1, "t", "kim", CaseOpened(two_capacitors())), *events]
    assert store.cases() == (("lamp", "t", 3),)


def test_two_writers_conflict(store):
    """The second is told, and nothing of it is written."""
    store.append("lamp", 1, [Event(2, "t", "kim", h.FeedOff())])

    with pytest.raises(CaseConflictError):
        store.append("lamp", 1, [Event(2, "t", "lee", h.Discharged())])
    assert store.events("lamp")[-1].author == "kim"


def test_unknown_case_offers_the_nearest(store):
    """A slip of the finger."""
    with pytest.raises(UnknownNameError) as caught:
        store.events("lamb")
    assert "lamp" in caught.value.hint


def test_a_name_is_given_once(store):
    """Two cases of one name could not be told apart."""
    with pytest.raises(CaseConflictError):
        store.open_case("lamp", "t", "kim", CaseOpened(two_capacitors()))


def test_two_programs_writing_the_same_file_conflict(tmp_path):
    """Through two stores on one file, as two programs have."""
    first, second = CaseFile(tmp_path / "c.sqlite"), CaseFile(tmp_path / "c.sqlite")
    first.open_case("lamp", "t", "kim", CaseOpened(two_capacitors()))
    first.append("lamp", 1, [Event(2, "t", "kim", h.FeedOff())])

    with pytest.raises(CaseConflictError):
        second.append("lamp", 1, [Event(2, "t", "lee", h.Discharged())])


@pytest.mark.parametrize("seed", range(4))
def test_what_was_acknowledged_survives_kill_9(tmp_path, seed):
    """Killed at a random moment while writing, over and over on the same file."""
    path = tmp_path / "cases.sqlite"
    CaseFile(path).open_case("lamp", "t", "kim", CaseOpened(two_capacitors()))
    draw = random.Random(seed)
    for _ in range(2):
        writer = subprocess.Popen(
            [sys.executable, str(Path(__file__).parent / "writer.py"), str(path)],
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONPATH": str(Path(ohmwright.__file__).parents[1])},
        )
        assert writer.stdout is not None
        lines = [writer.stdout.readline()]
        time.sleep(draw.uniform(0.0, 0.1))
        os.kill(writer.pid, signal.SIGKILL)
        lines += writer.stdout.read().splitlines()
        writer.stdout.close()
        writer.wait()
        acknowledged = max(int(line) for line in lines if line.strip())
        sequences = [e.sequence for e in CaseFile(path).events("lamp")]

        assert sequences == list(range(1, len(sequences) + 1))
        assert len(sequences) >= acknowledged


def test_commits_wait_for_the_disk(tmp_path):
    """WAL and FULL (2), as SQLite's documentation of PRAGMA synchronous asks for durability in WAL mode."""
    store = CaseFile(tmp_path / "c.sqlite")
    with store._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2


def test_another_programs_database_is_left_alone(tmp_path):
    """No table of ours is put into it."""
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE songs (title TEXT)")
    other.close()

    with pytest.raises(FileFormatError, match="another program"):
        CaseFile(path)
    with sqlite3.connect(path) as other:
        assert [row[0] for row in other.execute("SELECT name FROM sqlite_master")] == ["songs"]


def test_damaged_file_is_a_clear_error(tmp_path):
    """Bytes that are no database."""
    path = tmp_path / "c.sqlite"
    path.write_bytes(b"not a database, only text" * 100)

    with pytest.raises(FileFormatError) as caught:
        CaseFile(path)
    assert str(path) in str(caught.value)


def test_damaged_event_says_which(tmp_path):
    """One body overwritten."""
    path = tmp_path / "c.sqlite"
    CaseFile(path).open_case("lamp", "t", "kim", CaseOpened(two_capacitors()))
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE events SET body = '{'")
    raw.close()

    with pytest.raises(FileFormatError, match="damaged") as caught:
        CaseFile(path).events("lamp")
    assert "event 1" in caught.value.where


def test_blobs_are_named_by_content(tmp_path):
    """Twice the same is kept once."""
    store = CaseFile(tmp_path / "c.sqlite")

    # FIPS 180-4 example: SHA-256 of "abc".
    name = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert store.keep_blob(b"abc") == store.keep_blob(b"abc") == name
    assert store.blob(name) == b"abc"


def test_folder_that_cannot_be_made(tmp_path):
    """A file stands in the way."""
    (tmp_path / "x").write_text("")

    with pytest.raises(DataError):
        CaseFile(tmp_path / "x" / "y" / "c.sqlite")
