"""One file, whole or not at all: killed writers, two at once, older schemas, nothing left of the erased."""

from __future__ import annotations

import random
import signal
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from tests.stages import NOW

from deskmend.casebook import store
from deskmend.casebook import store as schema
from deskmend.casebook.store import Rating, open_casebook
from deskmend.errors import InputFaults

from .books import DAY, done, felt, visit

HERE = Path(__file__).parent
FIRST = (HERE / "first_schema.sql").read_text(encoding="utf-8")
WRITER = """
import sys
from datetime import date
from deskmend.casebook.store import PlannedStep, Visit, open_casebook
file, key, most = sys.argv[1:]
with open_casebook(file, create=True) as book:
    for number in range(int(most)):
        visit = Visit(
            day=date(2026, 3, 1), case_file=f"{key}-{number}", case_text="a" * 3000, catalog_hash="c",
            prices_hash="p", version="0", currency="EUR", plan="{}", steps=(PlannedStep("bell", "bell"),),
        )
        book.add_visit(key, visit)
        print(number, flush=True)
"""


def writer(file: Path, key: str, most: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(file), key, str(most)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=HERE.parents[1])


def sound(file: Path) -> bool:
    rows = sqlite3.connect(file)
    try:
        told = rows.execute("PRAGMA integrity_check").fetchall()
        return told == [("ok",)] and not rows.execute("PRAGMA foreign_key_check").fetchall()
    finally:
        rows.close()


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    with open_casebook(tmp_path / "a.casebook", create=True) as book:
        book.add_visit(
            "anna", visit("den.feet_book=80", "break_timer"), felt(("neck", 6, 2))[:1], "met at home"
        )
        book.add_done("Anna", [done("den.feet_book=60", paid=250, why="had one")])
        book.add_felt("anna", felt(("neck", 6, 2))[1:])
    with open_casebook(tmp_path / "a.casebook") as book:
        assert book.keys() == ("anna",)
        person = book.person("ANNA")
    assert [step.name for step in person.visits[0].steps] == ["den.feet_book=80", "break_timer"]
    assert person.visits[0].case_text == visit().case_text
    assert [(one.name, one.paid, one.why) for one in person.done] == [("den.feet_book=60", 250, "had one")]
    assert [(one.region, one.rating) for one in person.felt] == [("neck", 6), ("neck", 2)]
    assert [one.text for one in person.notes] == ["met at home"]


def test_only_its_owner_may_read_it(tmp_path: Path) -> None:
    open_casebook(tmp_path / "a.casebook", create=True).close()
    assert stat.S_IMODE((tmp_path / "a.casebook").stat().st_mode) == 0o600


def test_a_write_that_fails_leaves_nothing(tmp_path: Path) -> None:
    with open_casebook(tmp_path / "a.casebook", create=True) as book:
        with pytest.raises(sqlite3.IntegrityError):
            book.add_visit("anna", visit("break_timer"), [Rating(DAY, "neck", 11)])
        assert book.keys() == ()
        with pytest.raises(InputFaults, match="begins one"):
            book.add_felt("anna", felt(("neck", 6, 2)))


@pytest.mark.both
def test_a_killed_writer_loses_at_most_the_last(tmp_path: Path) -> None:
    chance = random.Random(NOW.seed)
    for number in range(200 if NOW.thorough else 3):
        file = tmp_path / f"{number}.casebook"
        with writer(file, "anna", 10_000) as child:
            assert child.stdout is not None
            for _ in range(chance.randrange(1, 20)):
                child.stdout.readline()
            child.send_signal(signal.SIGKILL)
            last = child.stdout.read().splitlines()
        with open_casebook(file) as book:
            written = [one.case_file for one in book.person("anna").visits]
            book.add_felt("anna", [Rating(DAY, "neck", 5)])
        assert sound(file)
        # a journal that the killed one had only begun goes with the next write
        assert [path.name for path in tmp_path.glob(f"{number}.casebook*")] == [file.name]
        assert written == [f"anna-{count}" for count in range(len(written))]
        if last:
            assert len(written) - 1 - int(last[-1]) in (0, 1)


def test_two_writers_at_once_keep_everything(tmp_path: Path) -> None:
    file, most = tmp_path / "a.casebook", 15
    children = [writer(file, key, most) for key in ("anna", "bob")]
    for child in children:
        with child:
            child.communicate()
    assert [child.returncode for child in children] == [0, 0]
    with open_casebook(file) as book:
        assert sorted(book.keys()) == ["anna", "bob"]
        assert all(len(person.visits) == most for person in book.persons())
    assert sound(file)


def test_one_that_does_not_let_go_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "WAITS", 0.05)
    with open_casebook(tmp_path / "a.casebook", create=True) as book:
        book.add_visit("anna", visit("break_timer"))
        other = sqlite3.connect(book.path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        try:
            assert len(book.person("anna").visits) == 1
            with pytest.raises(InputFaults, match="cannot be used now: database is locked"):
                book.add_visit("anna", visit("break_timer"))
            with pytest.raises(InputFaults, match="cannot be used now"):
                book.erase("anna")
        finally:
            other.close()
        assert len(book.person("anna").visits) == 1


def test_nothing_is_left_of_the_erased(tmp_path: Path) -> None:
    file = tmp_path / "a.casebook"
    marks = ["qzkey", "qzcase", "qzfix", "qzwhy", "qznote", "qzfile", "qzregion", "qzexport", "qzonce"]
    with open_casebook(file, create=True) as book:
        book.add_visit("bob", visit("break_timer", text="kept of bob " * 5000))
        for number in range(20):
            text = f"qzcase{number} " * 3000
            book.add_visit("qzkey", visit("den.qzfix=80", text=text, file="qzfile"), note="qznote")
        book.add_done("qzkey", [done("den.qzfix=80", why="qzwhy")])
        book.add_felt("qzkey", [Rating(DAY, "qzregion", 5)])
        book.add_export(DAY, "out-qzexport.csv", "share", ["qzkey"])
        book.add_export(DAY, "of-qzkey-and-bob.csv", "share", ["qzkey", "bob"])
        book.add_done("bob", [done("break_timer", why="as qzkey said")])
        before = file.read_bytes()
        assert all(mark.encode() in before for mark in marks[:-1])
        erased = book.erase("QZKEY")
        assert erased.exports == ("out-qzexport.csv", "of-qzkey-and-bob.csv")
        assert erased.case_files == ("qzfile",)
        assert erased.named_by == ("bob",)
        assert book.keys() == ("bob",)
    left = file.read_bytes().replace(b"as qzkey said", b"")
    assert [mark for mark in marks if mark.encode() in left.lower()] == []
    assert b"kept of bob" in left
    assert [path.name for path in tmp_path.iterdir()] == [file.name]
    assert sound(file)


def test_a_short_key_takes_nothing_of_others(tmp_path: Path) -> None:
    with open_casebook(tmp_path / "a.casebook", create=True) as book:
        for key in ("a", "anna"):
            book.add_visit(key, visit("break_timer", file=f"case-{key}.yaml"))
        book.add_export(DAY, "out/all_shared.csv", "share", ["a", "anna"])
        book.add_export(DAY, "out/anna.html", "recheck", ["anna"])
        assert book.erase("a").named_by == ()
        assert [one.file for one in book.person("anna").exports] == ["out/all_shared.csv", "out/anna.html"]


def test_the_first_schema_is_never_changed_and_still_opens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert schema.STEPS[0].strip() == FIRST.strip()
    file = tmp_path / "old.casebook"
    rows = sqlite3.connect(file)
    rows.executescript(FIRST)
    rows.executescript(
        "INSERT INTO person VALUES (1, 'anna'); INSERT INTO felt VALUES (1, 1, '2026-03-01', 'neck', 6);"
        f"PRAGMA user_version = 1; PRAGMA application_id = {schema.APPLICATION};"
    )
    rows.close()
    further = "ALTER TABLE note ADD COLUMN who TEXT NOT NULL DEFAULT ''"
    monkeypatch.setattr(store, "STEPS", (*schema.STEPS, further))
    with open_casebook(file) as book:
        assert book.person("anna").felt == (Rating(DAY, "neck", 6),)
        book.add_felt("anna", [Rating(DAY, "neck", 5)])
    monkeypatch.undo()
    with pytest.raises(InputFaults, match="later version"):
        open_casebook(file)


@pytest.mark.parametrize(
    ("made", "told"),
    [
        ("", "is a database of something else"),
        ("nonsense", "cannot be read as a casebook"),
        (None, "is not there"),
    ],
)
def test_what_is_no_casebook_is_refused(tmp_path: Path, made: str | None, told: str) -> None:
    file = tmp_path / "other.db"
    if made:
        file.write_text(made * 200, encoding="utf-8")
    elif made is not None:
        rows = sqlite3.connect(file)
        rows.execute("CREATE TABLE cakes (name TEXT)")
        rows.close()
    before = file.read_bytes() if made is not None else None
    with pytest.raises(InputFaults, match=told):
        open_casebook(file)
    assert (file.read_bytes() if file.exists() else None) == before
    with pytest.raises(InputFaults, match="folder"):
        open_casebook(tmp_path)


def test_frames_hold_what_the_casebook_holds(tmp_path: Path) -> None:
    with open_casebook(tmp_path / "a.casebook", create=True) as book:
        assert list(book.frame("felt").columns) == ["key", "day", "region", "rating"]
        book.add_visit("anna", visit("den.feet_book=80", "break_timer"), felt(("neck", 6, 2)))
        book.add_done("anna", [done("den.feet_book=80", paid=250), done("bell", "given_up")])
        visits, steps, ratings = book.frame(), book.frame("steps"), book.frame("felt")
        with pytest.raises(ValueError, match="allowed visits, steps, felt"):
            book.frame("all")  # type: ignore[arg-type]
    assert visits[["key", "steps"]].values.tolist() == [["anna", 2]]
    assert [str(one) for one in steps["paid"]] == ["2.50", "None"]
    assert steps["as_planned"].tolist() == [True, False]
    assert ratings.groupby("region")["rating"].agg(["first", "last"]).values.tolist() == [[6, 2]]
    assert visits["day"].dt.year.tolist() == [2026]
