"""The tables of the store, as they are in its newest version.

Older files are brought here by the steps in ``migrations``; a test compares what these make with what stands here.
Rows are only ever added: the database itself refuses to change or remove one. Two tables are the exception: ``heads``
is derived (the newest revision of each case, for the list) and can be made anew from the others; ``devices_seen`` is a
clock.
"""

from __future__ import annotations

from sqlalchemy import (
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

#: Version of the tables; also the name of the newest step in ``migrations``.
STORE_VERSION = 3
#: Stands in the head of the database file ("MtPf"), so that no other program's file is taken for a store.
APPLICATION_ID = 0x4D745066

metadata = MetaData()

cases = Table(
    "cases",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("uid", Text, nullable=False, unique=True),
    Column("begun_utc", Text, nullable=False),
    sqlite_autoincrement=True,
)
#: ``id`` grows with every revision of any case: it is the order, whatever the clock says. ``text`` is the whole
#: case.toml, byte for byte. No two revisions have the same parent: the history of a case never forks.
revisions = Table(
    "revisions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("case_id", Integer, ForeignKey("cases.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("parent_id", Integer, ForeignKey("revisions.id"), unique=True),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("text", LargeBinary, nullable=False),
    Column("text_sha256", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("program", Text, nullable=False),
    UniqueConstraint("case_id", "number"),
    sqlite_autoincrement=True,
)
changes = Table(
    "changes",
    metadata,
    Column("revision_id", Integer, ForeignKey("revisions.id"), primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("field", Text, nullable=False),
    Column("old", Text),
    Column("new", Text),
)
scans = Table(
    "scans",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("bytes", Integer, nullable=False),
    Column("added_utc", Text, nullable=False),
)
#: Which stored file stands under which name in a revision's folder.
revision_files = Table(
    "revision_files",
    metadata,
    Column("revision_id", Integer, ForeignKey("revisions.id"), primary_key=True),
    Column("name", Text, primary_key=True),
    Column("sha256", Text, ForeignKey("scans.sha256"), nullable=False),
    Index("revision_files_by_scan", "sha256"),
)
states = Table(
    "states",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("case_id", Integer, ForeignKey("cases.id"), nullable=False),
    Column("state", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    Index("states_by_case", "case_id"),
    sqlite_autoincrement=True,
)
heads = Table(
    "heads",
    metadata,
    Column("case_id", Integer, ForeignKey("cases.id"), primary_key=True),
    Column("head_id", Integer, ForeignKey("revisions.id"), nullable=False, unique=True),
    Column("number", Integer, nullable=False),
    Column("code", Text, nullable=False),
    Column("lab", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("begun_utc", Text, nullable=False),
    Column("changed_utc", Text, nullable=False),
    Column("sort_code", Text, nullable=False),
    Column("search", Text, nullable=False),
    Index("heads_by_code", "sort_code", "case_id"),
)
#: What a person accepted, and the digest of what the answer had read. ``stands`` 0 takes an acceptance back.
accepted = Table(
    "accepted",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("case_id", Integer, ForeignKey("cases.id"), nullable=False),
    Column("revision_id", Integer, ForeignKey("revisions.id"), nullable=False),
    Column("question", Text, nullable=False),
    Column("reads", Text, nullable=False),
    Column("seed", Integer, nullable=False),
    Column("digest", Text, nullable=False),
    Column("stands", Integer, nullable=False),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    Index("accepted_by_case", "case_id"),
    sqlite_autoincrement=True,
)
#: Revisions of instrument profiles; ``entered`` is JSON of what stands under [instrument], None where it was taken out.
profiles = Table(
    "profiles",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    Column("entered", Text),
    Column("program", Text, nullable=False),
    UniqueConstraint("name", "number"),
    sqlite_autoincrement=True,
)
#: Paired tablets. Of the token only its SHA-256 is known here.
devices = Table(
    "devices",
    metadata,
    Column("key", Integer, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("token_sha256", Text, nullable=False, unique=True),
    Column("who", Text, nullable=False),
    Column("paired_utc", Text, nullable=False),
    sqlite_autoincrement=True,
)
devices_revoked = Table(
    "devices_revoked",
    metadata,
    Column("key", Integer, primary_key=True),
    Column("id", Text, ForeignKey("devices.id"), nullable=False, unique=True),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    sqlite_autoincrement=True,
)
devices_seen = Table(
    "devices_seen",
    metadata,
    Column("id", Text, ForeignKey("devices.id"), primary_key=True),
    Column("at_utc", Text, nullable=False),
)
#: Who took a bundle in, and which revisions came with it (``first`` None: none that were not here already).
brought_in = Table(
    "brought_in",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("case_id", Integer, ForeignKey("cases.id"), nullable=False),
    Column("first", Integer),
    Column("last", Integer, nullable=False),
    Column("bundle_sha256", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    Index("brought_in_by_case", "case_id"),
    sqlite_autoincrement=True,
)
#: Every restore, and the name of the file in ``kept`` that holds what stood here before.
restores = Table(
    "restores",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kept", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("at_utc", Text, nullable=False),
    sqlite_autoincrement=True,
)
#: The highest number of a revision that was given before a restore: it is never given to another one.
numbers_given = Table(
    "numbers_given",
    metadata,
    Column("restore_id", Integer, ForeignKey("restores.id"), primary_key=True),
    Column("case_id", Integer, ForeignKey("cases.id"), primary_key=True),
    Column("number", Integer, nullable=False),
    Index("numbers_given_by_case", "case_id"),
)
