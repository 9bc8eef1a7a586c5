"""The tables of a registry: what many cases gave, each once, and the runs that asked for them.

The same tables in an SQLite file and in PostgreSQL. A row is named by the SHA-256 of the case's text, which holds its
code, and by the version of the program: what is worked out from the same text by the same program is the same row, whoever
asks. A run keeps the list of what it is about, so that what is left of it is what has no row yet.
"""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Integer, MetaData, Table, Text, UniqueConstraint

metadata = MetaData()

#: ``state``: running, stopped or done.
runs = Table(
    "registry_runs",
    metadata,
    Column("uid", Text, primary_key=True),
    Column("program", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("begun_utc", Text, nullable=False),
    Column("ended_utc", Text),
)
#: What a run is about: ``place`` in its list, where the case came from, the text it had.
members = Table(
    "registry_members",
    metadata,
    Column("run_uid", Text, ForeignKey("registry_runs.uid"), primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("source", Text, nullable=False),
    Column("digest", Text, nullable=False),
)
#: One of ``numbers`` and ``fault`` is there: what the case gave, or why it could not be read; both JSON.
rows = Table(
    "registry_rows",
    metadata,
    Column("digest", Text, nullable=False),
    Column("program", Text, nullable=False),
    Column("code", Text, nullable=False),
    Column("numbers", Text),
    Column("fault", Text),
    Column("written_utc", Text, nullable=False),
    UniqueConstraint("digest", "program"),
)
