"""The tables of the store."""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Integer, LargeBinary, MetaData, String, Table, Text

metadata = MetaData()

cases = Table(
    "cases",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(120), nullable=False, unique=True),
    Column("opened_at", String(64), nullable=False),
)

events = Table(
    "events",
    metadata,
    Column("case_id", ForeignKey("cases.id"), primary_key=True),
    Column("sequence", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(60), nullable=False),
    Column("version", Integer, nullable=False),
    Column("at", String(64), nullable=False),
    Column("author", String(200), nullable=False),
    Column("body", Text, nullable=False),
)

blobs = Table(
    "blobs",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
)
"""Pictures and papers, each named by its content."""
