"""The tables of a casebook, and the steps that bring an older file up to date.

A step is never changed once a file may have been made by it: what is new is a further step at the end.
"""

from __future__ import annotations

__all__ = ["APPLICATION", "STEPS"]

APPLICATION = 0x6465736B
"""Mark in the head of the file by which a casebook is told from other databases."""

_FIRST = """
CREATE TABLE person (
  id INTEGER PRIMARY KEY,
  key TEXT NOT NULL UNIQUE COLLATE NOCASE
) STRICT;
CREATE TABLE visit (
  id INTEGER PRIMARY KEY,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  day TEXT NOT NULL,
  case_file TEXT NOT NULL,
  case_text TEXT NOT NULL,
  catalog_hash TEXT NOT NULL,
  prices_hash TEXT NOT NULL,
  version TEXT NOT NULL,
  currency TEXT NOT NULL,
  plan TEXT NOT NULL
) STRICT;
CREATE INDEX visit_of ON visit (person, day, id);
CREATE TABLE planned (
  visit INTEGER NOT NULL REFERENCES visit (id) ON DELETE CASCADE,
  number INTEGER NOT NULL,
  name TEXT NOT NULL,
  fix TEXT NOT NULL,
  PRIMARY KEY (visit, number)
) STRICT;
CREATE TABLE done (
  id INTEGER PRIMARY KEY,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  day TEXT NOT NULL,
  name TEXT NOT NULL,
  fix TEXT NOT NULL,
  decision TEXT NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('kept', 'given_up')),
  paid INTEGER CHECK (paid >= 0),
  currency TEXT NOT NULL,
  why TEXT NOT NULL
) STRICT;
CREATE INDEX done_of ON done (person, day, id);
CREATE TABLE felt (
  id INTEGER PRIMARY KEY,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  day TEXT NOT NULL,
  region TEXT NOT NULL,
  rating INTEGER NOT NULL CHECK (rating BETWEEN 0 AND 10)
) STRICT;
CREATE INDEX felt_of ON felt (person, day, id);
CREATE TABLE note (
  id INTEGER PRIMARY KEY,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  day TEXT NOT NULL,
  text TEXT NOT NULL
) STRICT;
CREATE INDEX note_of ON note (person, day, id);
CREATE TABLE export (
  id INTEGER PRIMARY KEY,
  day TEXT NOT NULL,
  file TEXT NOT NULL,
  what TEXT NOT NULL
) STRICT;
CREATE TABLE exported (
  export INTEGER NOT NULL REFERENCES export (id) ON DELETE CASCADE,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  PRIMARY KEY (export, person)
) STRICT;
CREATE INDEX exported_of ON exported (person);
"""

_ONE_BILL = "ALTER TABLE done ADD COLUMN paid_with TEXT NOT NULL DEFAULT '';"

STEPS: tuple[str, ...] = (_FIRST, _ONE_BILL)
"""What brings a file from one version to the next; the version of a file is how many it has had."""
