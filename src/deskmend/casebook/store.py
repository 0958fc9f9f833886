"""One casebook file: its tables, and what is written into it and read from it, whole or not at all.

A step is never changed once a file may have been made by it: what is new is a further step at the end.

Every write is one transaction that is on the disk before the call returns; one process writes at a time and
others wait. What is deleted is overwritten, and no journal is left beside the file.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from deskmend.errors import DefectError, Fault, InputFaults, did_you_mean, option_fault, why_unusable
from deskmend.measures import Minor, exact_amount

if TYPE_CHECKING:
    from pandas import DataFrame

__all__ = [
    "APPLICATION",
    "DEFAULT_FILE",
    "STEPS",
    "Casebook",
    "Erased",
    "Exported",
    "Note",
    "PersonBook",
    "PlannedStep",
    "Rating",
    "StepDone",
    "StepState",
    "Visit",
    "open_casebook",
]

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


DEFAULT_FILE = "cases.casebook"
WAITS = 30.0
"""How long a process waits for another one to finish writing [s]."""

StepState = Literal["kept", "given_up"]


@dataclass(frozen=True)
class PlannedStep:
    """One step of a plan that was given: as ``assess --with`` takes it, and the fix it is of."""

    name: str
    fix: str


@dataclass(frozen=True, kw_only=True)
class Visit:
    """One visit: the case as its file said it, what it was planned with, and the plan that was given.

    - `case_file`: where the case was read from.
    - `catalog_hash`, `prices_hash`: SHA-256 of the catalog and of the price table.
    - `version`: of deskmend.
    - `plan`: the document of the plan.
    """

    id: int = 0
    day: date
    case_file: str
    case_text: str
    catalog_hash: str
    prices_hash: str
    version: str
    currency: str
    plan: str
    steps: tuple[PlannedStep, ...]


@dataclass(frozen=True, kw_only=True)
class StepDone:
    """One thing that was done, or given up again.

    - `name`: as ``assess --with`` takes it.
    - `decision`: what it settles, so that a later one of the same takes its place.
    - `paid`: None where nobody said; of one bill for several steps all stands at the first of them.
    - `paid_with`: name of that first step, at each of the others; else empty.
    - `why`: in the words of who told it; may be empty.
    """

    id: int = 0
    day: date
    name: str
    fix: str
    decision: str
    state: StepState
    paid: Minor | None = None
    paid_with: str = ""
    currency: str
    why: str = ""


@dataclass(frozen=True)
class Rating:
    """How a region of the body felt on a day: 0 nothing to 10 the worst."""

    day: date
    region: str
    rating: int


@dataclass(frozen=True)
class Note:
    """What was noted on a day."""

    day: date
    text: str


@dataclass(frozen=True)
class Exported:
    """A file that was written from the casebook, and what it holds."""

    day: date
    file: str
    what: str


@dataclass(frozen=True, kw_only=True)
class PersonBook:
    """All that the casebook holds of one person, each list by day."""

    key: str
    visits: tuple[Visit, ...]
    done: tuple[StepDone, ...]
    felt: tuple[Rating, ...]
    notes: tuple[Note, ...]
    exports: tuple[Exported, ...]

    def last_of_each(self) -> dict[str, StepDone]:
        """The last word on each decision: what is in place, or was given up."""
        return {one.decision: one for one in self.done}


@dataclass(frozen=True)
class Erased:
    """What stands elsewhere once a person is erased: nothing of it can be erased from here.

    - `exports`: files that were written from the casebook and hold the person, alone or counted.
    - `case_files`: where the person's cases were read from.
    - `named_by`: keys of others in whose entries the person's key is written.
    """

    key: str
    exports: tuple[str, ...]
    case_files: tuple[str, ...]
    named_by: tuple[str, ...]


def _refused(path: Path, note: str, allowed: str = "a casebook") -> InputFaults:
    return InputFaults([Fault(str(path), None, "", None, allowed, note=note)])


def open_casebook(path: str | Path = DEFAULT_FILE, *, create: bool = False) -> Casebook:
    """Open a casebook file.

    Parameters
    ----------
    path : str or Path
        The file.
    create : bool
        Whether to make an empty one, readable by its owner alone, where there is none.

    Returns
    -------
    Casebook
        Brought up to date where an earlier version made it; to be closed, or used in a ``with`` block.

    Raises
    ------
    deskmend.errors.InputFaults
        There is no such file, or it is no casebook that this version can read.
    """
    return Casebook(Path(path), create)


class Casebook:
    """An open casebook file; see `open_casebook`."""

    def __init__(self, path: Path, create: bool) -> None:
        self.path = path
        _make_or_refuse(path, create)
        # the library begins no transaction by itself: each write below is one from beginning to end
        self._rows = sqlite3.connect(path, timeout=WAITS, isolation_level=None)
        try:
            self._settle()
            self._bring_up_to_date()
        except sqlite3.DatabaseError as error:
            self._rows.close()
            raise _refused(path, f"cannot be read as a casebook: {error}") from None
        except InputFaults:
            self._rows.close()
            raise

    def _settle(self) -> None:
        """Settings that hold for this connection: nothing deleted stays readable, nothing lies beside."""
        for setting in (
            "foreign_keys = ON",
            "secure_delete = ON",
            "journal_mode = DELETE",
            "synchronous = EXTRA",
            "temp_store = MEMORY",
        ):
            self._rows.execute(f"PRAGMA {setting}")

    def _bring_up_to_date(self) -> None:
        if self._version() == len(STEPS) and self._mark() == APPLICATION:
            return
        with self._writing():
            # asked again, since another process may have done it in between
            version, mark = self._version(), self._mark()
            tables = self._rows.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
            if mark != APPLICATION and (tables or version):
                raise _refused(self.path, "is a database of something else")
            if version > len(STEPS):
                raise _refused(self.path, "was made by a later version of deskmend", "an older casebook")
            for number, step in enumerate(STEPS[version:], version + 1):
                for statement in step.split(";\n"):
                    self._rows.execute(statement)
                self._rows.execute(f"PRAGMA user_version = {number}")
            self._rows.execute(f"PRAGMA application_id = {APPLICATION}")

    def _version(self) -> int:
        return int(self._rows.execute("PRAGMA user_version").fetchone()[0])

    def _mark(self) -> int:
        return int(self._rows.execute("PRAGMA application_id").fetchone()[0])

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction: all that is written in the block, or nothing of it."""
        self._begin("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._rows.execute("ROLLBACK")
            raise
        self._rows.execute("COMMIT")

    def _begin(self, what: str) -> None:
        """Begin what has to wait for others; `InputFaults` where they do not end, or the disk refuses."""
        try:
            self._rows.execute(what)
        except sqlite3.OperationalError as error:
            raise _refused(self.path, f"cannot be used now: {error}", "a casebook that is free") from None

    def close(self) -> None:
        """Close the file."""
        self._rows.close()

    def __enter__(self) -> Casebook:
        """Use the casebook in a ``with`` block."""
        return self

    def __exit__(self, *error: object) -> None:
        """Close the file at the end of the block."""
        self.close()

    # --- writing ---------------------------------------------------------------------------------------

    def add_visit(self, key: str, visit: Visit, felt: Sequence[Rating] = (), note: str = "") -> None:
        """Write a visit, how it felt that day and a note; a person is new where there is none of that key."""
        with self._writing():
            self._rows.execute("INSERT INTO person (key) VALUES (?) ON CONFLICT DO NOTHING", (key,))
            person = self._person(key)
            row = self._rows.execute(
                "INSERT INTO visit (person, day, case_file, case_text, catalog_hash, prices_hash, version, "
                "currency, plan) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    person,
                    visit.day.isoformat(),
                    visit.case_file,
                    visit.case_text,
                    visit.catalog_hash,
                    visit.prices_hash,
                    visit.version,
                    visit.currency,
                    visit.plan,
                ),
            ).lastrowid
            self._rows.executemany(
                "INSERT INTO planned (visit, number, name, fix) VALUES (?, ?, ?, ?)",
                [(row, number, step.name, step.fix) for number, step in enumerate(visit.steps, 1)],
            )
            self._write_felt(person, felt)
            self._write_note(person, visit.day, note)

    def add_done(self, key: str, done: Sequence[StepDone], note: str = "") -> None:
        """Write what was done or given up, and a note on it."""
        with self._writing():
            person = self._person(key)
            self._rows.executemany(
                "INSERT INTO done (person, day, name, fix, decision, state, paid, currency, why, paid_with) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    (
                        person,
                        one.day.isoformat(),
                        one.name,
                        one.fix,
                        one.decision,
                        one.state,
                        one.paid,
                        one.currency,
                        one.why,
                        one.paid_with,
                    )
                    for one in done
                ],
            )
            if done:
                self._write_note(person, done[0].day, note)

    def add_felt(self, key: str, felt: Sequence[Rating], note: str = "") -> None:
        """Write how regions felt, and a note on it."""
        with self._writing():
            person = self._person(key)
            self._write_felt(person, felt)
            if felt:
                self._write_note(person, felt[0].day, note)

    def add_export(self, day: date, file: str, what: str, keys: Sequence[str]) -> None:
        """Write down that a file was made from what is here of some persons."""
        with self._writing():
            row = self._rows.execute(
                "INSERT INTO export (day, file, what) VALUES (?, ?, ?)", (day.isoformat(), file, what)
            ).lastrowid
            self._rows.executemany(
                "INSERT INTO exported (export, person) VALUES (?, ?)",
                [(row, self._person(key)) for key in keys],
            )

    def erase(self, key: str) -> Erased:
        """Take a person out: no byte of what is here of the person is left in the file or beside it."""
        person = self.person(key)
        with self._writing():
            number = self._person(key)
            for row, file, others in self._rows.execute(
                "SELECT id, file, (SELECT count(*) FROM exported WHERE export = id AND person <> ?) "
                "FROM export WHERE id IN (SELECT export FROM exported WHERE person = ?)",
                (number, number),
            ).fetchall():
                # what others are counted in too stays known for them, unless its path names this person
                if not others or _written_in(person.key, file):
                    self._rows.execute("DELETE FROM export WHERE id = ?", (row,))
            self._rows.execute("DELETE FROM person WHERE id = ?", (number,))
        self._begin("VACUUM")
        beside = [self.path.with_name(self.path.name + end) for end in ("-journal", "-wal", "-shm")]
        with self._writing():
            # nobody else writes now, so a journal here would be one that was left
            if any(path.exists() for path in beside):
                raise DefectError(f"something of {key} may be left beside {self.path}")
        others = (self.person(other) for other in self.keys())
        return Erased(
            key=person.key,
            exports=tuple(dict.fromkeys(one.file for one in person.exports)),
            case_files=tuple(dict.fromkeys(one.case_file for one in person.visits if one.case_file)),
            named_by=tuple(other.key for other in others if _names(other, person.key)),
        )

    def _person(self, key: str) -> int:
        row = self._rows.execute("SELECT id FROM person WHERE key = ?", (key,)).fetchone()
        if row is None:
            raise self.unknown(key)
        return int(row[0])

    def unknown(self, key: str) -> InputFaults:
        """The fault of a key that nobody here has."""
        hint = did_you_mean(key, self.keys()) or f"deskmend casebook add {key} CASE begins one"
        return InputFaults([option_fault("KEY", key, f"a person of {self.path}", hint)])

    def _write_felt(self, person: int, felt: Sequence[Rating]) -> None:
        self._rows.executemany(
            "INSERT INTO felt (person, day, region, rating) VALUES (?, ?, ?, ?)",
            [(person, one.day.isoformat(), one.region, one.rating) for one in felt],
        )

    def _write_note(self, person: int, day: date, text: str) -> None:
        if text:
            self._rows.execute(
                "INSERT INTO note (person, day, text) VALUES (?, ?, ?)", (person, day.isoformat(), text)
            )

    # --- reading ---------------------------------------------------------------------------------------

    def keys(self) -> tuple[str, ...]:
        """Keys of all persons, in the order they came."""
        return tuple(row[0] for row in self._rows.execute("SELECT key FROM person ORDER BY id"))

    def known(self, key: str) -> PersonBook | None:
        """The same as `person`; None where nobody has that key."""
        return self.person(key) if key.lower() in (one.lower() for one in self.keys()) else None

    def person(self, key: str) -> PersonBook:
        """All that is here of one person; `InputFaults` where nobody has that key."""
        number = self._person(key)
        (own,) = self._rows.execute("SELECT key FROM person WHERE id = ?", (number,)).fetchone()
        planned: dict[int, list[PlannedStep]] = {}
        for visit, name, fix in self._rows.execute(
            "SELECT visit, name, fix FROM planned WHERE visit IN (SELECT id FROM visit WHERE person = ?) "
            "ORDER BY visit, number",
            (number,),
        ):
            planned.setdefault(visit, []).append(PlannedStep(name, fix))
        visits = [
            Visit(
                id=row[0],
                day=date.fromisoformat(row[1]),
                case_file=row[2],
                case_text=row[3],
                catalog_hash=row[4],
                prices_hash=row[5],
                version=row[6],
                currency=row[7],
                plan=row[8],
                steps=tuple(planned.get(row[0], ())),
            )
            for row in self._of(
                number,
                "id, day, case_file, case_text, catalog_hash, prices_hash, version, currency, plan",
                "visit",
            )
        ]
        done = [
            StepDone(
                id=row[0],
                day=date.fromisoformat(row[1]),
                name=row[2],
                fix=row[3],
                decision=row[4],
                state=row[5],
                paid=row[6],
                currency=row[7],
                why=row[8],
                paid_with=row[9],
            )
            for row in self._of(
                number, "id, day, name, fix, decision, state, paid, currency, why, paid_with", "done"
            )
        ]
        felt = self._of(number, "day, region, rating", "felt")
        notes = self._of(number, "day, text", "note")
        exports = self._rows.execute(
            "SELECT day, file, what FROM export JOIN exported ON export = id WHERE person = ? ORDER BY id",
            (number,),
        )
        return PersonBook(
            key=own,
            visits=tuple(visits),
            done=tuple(done),
            felt=tuple(Rating(date.fromisoformat(row[0]), row[1], row[2]) for row in felt),
            notes=tuple(Note(date.fromisoformat(row[0]), row[1]) for row in notes),
            exports=tuple(Exported(date.fromisoformat(row[0]), row[1], row[2]) for row in exports),
        )

    def _of(self, person: int, columns: str, table: str) -> list[Any]:
        asked = f"SELECT {columns} FROM {table} WHERE person = ? ORDER BY day, id"
        return self._rows.execute(asked, (person,)).fetchall()

    def persons(self) -> tuple[PersonBook, ...]:
        """All persons, in the order they came, as they stand at one moment."""
        self._begin("BEGIN")
        try:
            return tuple(self.person(key) for key in self.keys())
        finally:
            self._rows.execute("COMMIT")

    def frame(self, of: Literal["visits", "steps", "felt"] = "visits") -> DataFrame:
        """A data frame of the whole casebook, by pandas, which is loaded only now.

        Parameters
        ----------
        of : str
            ``visits``: a row a visit; ``steps``: a row each time a step was done or given up; ``felt``: a row
            a rating.

        Returns
        -------
        pandas.DataFrame
            Days as dates, money as exact decimals in major units, ratings from 0 to 10 [-].
        """
        from pandas import DataFrame, to_datetime

        rows: list[dict[str, Any]] = []
        for person in self.persons():
            if of == "visits":
                rows += [
                    {
                        "key": person.key,
                        "day": one.day,
                        "version": one.version,
                        "currency": one.currency,
                        "steps": len(one.steps),
                        "fixes": " ".join(step.name for step in one.steps),
                    }
                    for one in person.visits
                ]
            elif of == "steps":
                given = {step.name for visit in person.visits for step in visit.steps}
                rows += [
                    {
                        "key": person.key,
                        "day": one.day,
                        "fix": one.fix,
                        "name": one.name,
                        "as_planned": one.name in given,
                        "state": one.state,
                        "paid": None if one.paid is None else exact_amount(one.paid, one.currency),
                        "paid_with": one.paid_with,
                        "currency": one.currency,
                        "why": one.why,
                    }
                    for one in person.done
                ]
            elif of == "felt":
                rows += [
                    {"key": person.key, "day": one.day, "region": one.region, "rating": one.rating}
                    for one in person.felt
                ]
            else:
                raise ValueError(f"of: read {of!r}, allowed visits, steps, felt")
        frame = DataFrame(rows, columns=_COLUMNS[of])
        return frame.assign(day=to_datetime(frame["day"]))


_COLUMNS = {
    "visits": ["key", "day", "version", "currency", "steps", "fixes"],
    "steps": ["key", "day", "fix", "name", "as_planned", "state", "paid", "paid_with", "currency", "why"],
    "felt": ["key", "day", "region", "rating"],
}
"""Columns of each frame, also of an empty one."""


def _make_or_refuse(path: Path, create: bool) -> None:
    """Make the file, so that only its owner may read it, or refuse what is none."""
    try:
        if path.is_dir():
            raise _refused(path, "is a folder")
        if path.exists():
            return
        if not create:
            raise _refused(
                path,
                "is not there; deskmend casebook add KEY CASE begins one",
            )
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except (OSError, ValueError) as error:
        raise _refused(path, f"cannot be opened: {why_unusable(error)}") from None


def _written_in(key: str, text: str) -> bool:
    """Whether a key stands in a text as a word of its own."""
    alone = rf"(?<![A-Za-z0-9]){re.escape(key)}(?![A-Za-z0-9])"
    return re.search(alone, text, re.IGNORECASE) is not None


def _names(other: PersonBook, key: str) -> bool:
    """Whether anything written of another person holds a key as a word of its own."""
    texts = [
        *(one.text for one in other.notes),
        *(one.why for one in other.done),
        *(one.file for one in other.exports),
        *(text for one in other.visits for text in (one.case_file, one.case_text, one.plan)),
    ]
    return any(_written_in(key, text) for text in texts)
