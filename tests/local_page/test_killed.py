"""The server killed in the middle of each kind of write: all or nothing is there, and it opens again."""

from __future__ import annotations

import random
import shutil
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import date
from http.client import HTTPException
from pathlib import Path
from typing import Any

import pytest
from tests.casebook.books import CASE_TEXT, visit
from tests.catalog.small_catalog import write
from tests.stages import seeds, some

from deskmend.casebook.store import Rating, open_casebook
from deskmend.intake.catalog import text_digest
from deskmend.local_page.books import person_version
from deskmend.local_page.folder import CaseFolder

from .killed import Running
from .served import Served

BOOK = "cases.casebook"
ANNA = {"book": BOOK, "key": "p1"}
Post = tuple[str, dict[str, Any]]
Work = Callable[[str, Any], Any]


def made(folder: Path) -> None:
    """A folder with a case, its prices and a casebook of five persons."""
    folder.mkdir()
    (folder / "mine.yaml").write_text(CASE_TEXT, encoding="utf-8")
    shop = write(folder.parent / "shop")
    shutil.copy(shop / "prices.csv", folder)
    with open_casebook(folder / BOOK, create=True) as book:
        for number in range(5):
            book.add_visit(f"p{number}", visit("bell"))


def version_of(folder: Path) -> str:
    return text_digest((folder / "mine.yaml").read_bytes())


def person(folder: Path) -> str:
    with open_casebook(folder / BOOK) as book:
        return person_version(book.person("p1"))


def asked(what: str, folder: Path, **more: Any) -> dict[str, Any]:
    told = {"day": "2026-03-20", "budget": "", "note": "", "measured": False, "version": ""}
    return {"what": what, "case": "mine.yaml", **ANNA, **told, **more}


WRITES: dict[str, Callable[[Path, Work], Post]] = {
    "answer": lambda folder, _: (
        "/answer",
        {"case": "mine.yaml", "version": version_of(folder), "where": "places.0.desk.height",
         "key": "desk.height", "text": "71 cm", "sure": True},
    ),
    "wishes": lambda folder, _: (
        "/wishes",
        {"case": "mine.yaml", "version": version_of(folder), "must": [], "never": ["bell"]},
    ),
    "new": lambda _folder, _: ("/begin", {"name": "second", "text": CASE_TEXT}),
    "example": lambda _folder, _: ("/example", {}),
    "page": lambda _folder, work: (
        "/keep",
        {"number": work("/ask", {"what": "page", "case": "mine.yaml", "reader": "employer"})["number"]},
    ),
    "visit": lambda folder, work: (
        "/book/visit",
        {"book": BOOK, "version": "",
         "number": work("/book/ask", asked("visit", folder, key="new"))["number"]},
    ),
    **{
        what: lambda folder, work, what=what: (
            f"/book/{what}",
            {"book": BOOK, "version": person(folder),
             "number": work("/book/ask", asked("recheck", folder, version=person(folder)))["number"]},
        )
        for what in ("drawn", "next")
    },
    "done": lambda folder, _: (
        "/book/done",
        {**ANNA, "version": person(folder), "fixes": ["bell"], "given_up": False, "paid": "", "why": "",
         "day": "2026-03-20", "note": "kept"},
    ),
    "felt": lambda folder, _: (
        "/book/felt",
        {**ANNA, "version": person(folder), "ratings": {"neck": "3", "eyes": "1"}, "day": "2026-03-20",
         "note": "slept well"},
    ),
    "share": lambda _folder, _: ("/book/share", {"book": BOOK, "name": "counts"}),
    "erase": lambda folder, _: ("/book/erase", {**ANNA, "version": person(folder), "again": "p1"}),
}  # fmt: skip


def state(folder: Path) -> dict[str, str | bytes]:
    """All that the folder says; what stands hidden beside it says nothing."""
    out: dict[str, str | bytes] = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.parent.name[:1] != "." and path.name[:1] != "." and BOOK not in path.name
    }
    with open_casebook(folder / BOOK) as book:
        out[BOOK] = repr(book.persons())
    with closing(sqlite3.connect(folder / BOOK)) as rows:
        assert rows.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    return out


def each_state(folder: Path, kind: str) -> list[dict[str, str | bytes]]:
    """What the folder says before a write and after it; for a file told in the casebook too, in between."""
    kept = folder.with_name("kept")
    shutil.copytree(folder, kept)
    before = state(folder)
    page = Served(folder, catalog=str(folder.with_name("shop")))

    def work(path: str, told: Any) -> Any:
        return page.client.get(f"/asked/{page.post(path, told).json()['number']}").json()["answer"]

    answer = page.post(*WRITES[kind](folder, work))
    assert answer.status_code == 200, answer.text
    after = state(folder)
    shutil.rmtree(folder)
    kept.rename(folder)
    assert state(folder) == before != after
    # a file is put in place whole, then the casebook tells of it
    between = [{**after, BOOK: before[BOOK]}] if kind in ("share", "drawn", "next") else []
    return [before, after, *between]


def killed(folder: Path, kind: str, number: int, later: float) -> None:
    """Kill a server after so many steps of a write, and open the folder again."""
    allowed = each_state(folder, kind)
    running = Running(folder, folder.with_name("shop"))
    try:
        told = WRITES[kind](folder, running.worked_out)
        running.quiet()

        def post() -> None:
            try:
                running.post(*told)
            except (HTTPException, OSError):
                # nobody is there to answer any more
                return

        writing = threading.Thread(target=post)
        writing.start()
        running.kill_at(number, later)
        writing.join(60)
    finally:
        running.kill()
    found = state(folder)
    assert found in allowed, (kind, number, later)
    CaseFolder(folder).clear_unfinished()
    left = [path.name for path in folder.rglob("*") if path.name.startswith(".")]
    assert left == [], "what was half-written is gone once it opens again"
    with open_casebook(folder / BOOK) as book:
        book.add_felt("p0", [Rating(date(2026, 4, 1), "neck", 1)])
    assert not (folder / f"{BOOK}-journal").exists(), "the next write takes what a killed one left"


@seeds(1, 3)
@pytest.mark.parametrize("kind", some(tuple(WRITES)))
def test_a_killed_server_leaves_nothing_half_written(tmp_path: Path, kind: str, seed: int) -> None:
    folder = tmp_path / "cases"
    made(folder)
    drawn = random.Random(f"{seed} {kind}")
    killed(folder, kind, drawn.randrange(1, 5), drawn.random() * 0.03)
