"""The tables, as the newest migration leaves them."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    DateTime,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

__all__ = ["acts", "attachments", "kept", "metadata", "people", "revisions", "settings", "studies"]

metadata = MetaData()

studies = Table(
    "studies",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("title", Text, nullable=False),
    Column("site", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("created", DateTime(timezone=True), nullable=False),
    Column("changed", DateTime(timezone=True), nullable=False),
    Column("removed", Boolean, nullable=False, default=False),
)

# `back` and `forward` are the versions whose text undo and redo bring back.
revisions = Table(
    "revisions",
    metadata,
    Column("study", String(32), ForeignKey("studies.id"), primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("places", Text, nullable=False),
    Column("author", String(64), nullable=False),
    Column("back", Integer),
    Column("forward", Integer),
    Column("data", LargeBinary, nullable=False),
)

kept = Table(
    "kept",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("study", String(32), ForeignKey("studies.id"), nullable=False, index=True),
    Column("base", Integer, nullable=False),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("places", Text, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

attachments = Table(
    "attachments",
    metadata,
    Column("study", String(32), ForeignKey("studies.id"), primary_key=True),
    Column("name", String(120), primary_key=True),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("data", LargeBinary, nullable=False),
)

settings = Table(
    "settings",
    metadata,
    Column("key", String(64), primary_key=True),
    Column("value", LargeBinary, nullable=False),
)

# Only the hash of a token is kept.
people = Table(
    "people",
    metadata,
    Column("name", String(60), primary_key=True),
    Column("role", String(16), nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    Column("created", DateTime(timezone=True), nullable=False),
    Column("expires", DateTime(timezone=True), nullable=False),
    Column("ended", Boolean, nullable=False, default=False),
)

acts = Table(
    "acts",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("who", String(64), nullable=False),
    Column("study", String(32), nullable=False),
    Column("act", String(40), nullable=False),
    Column("what", Text, nullable=False),
)
