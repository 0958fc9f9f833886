"""The casebook on the page: as its commands have it, guarded, and nothing lost between two windows."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from tests.casebook.books import CASE_TEXT, felt, visit
from tests.catalog.small_catalog import write
from tests.local_page.test_screens import HOSTILE, Tags

from deskmend.casebook.store import open_casebook
from deskmend.cli import deskmend
from deskmend.intake.case_file import case_of_bytes
from deskmend.local_page.books import person_version
from deskmend.local_page.folder import CaseFolder, NotInFolder

from .served import Served

BOOK = "cases.casebook"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Served:
    folder = tmp_path_factory.mktemp("cases")
    (folder / "mine.yaml").write_text(CASE_TEXT, encoding="utf-8")
    shop = write(tmp_path_factory.mktemp("shop"))
    (folder / "prices.csv").write_text((shop / "prices.csv").read_text(), encoding="utf-8")
    return Served(folder, catalog=str(shop))


@pytest.fixture
def page(served: Served) -> Served:
    """The same page, with no casebook yet."""
    for path in served.folder.iterdir():
        if path.name not in ("mine.yaml", "prices.csv"):
            path.unlink()
    return served


def asked(page: Served, what: str, key: str, version: str = "", **more: Any) -> Any:
    told = {"day": "2026-03-01", "budget": "", "note": "", "measured": False, **more}
    began = page.post(
        "/book/ask", {"what": what, "book": BOOK, "case": "mine.yaml", "key": key, "version": version, **told}
    )
    assert began.status_code == 200, began.text
    return page.client.get(f"/asked/{began.json()['number']}").json()


def begun(page: Served, key: str = "anna", **more: Any) -> str:
    """Write a first visit; the person's version then."""
    found = asked(page, "visit", key, **more)
    assert found["state"] == "done", found
    told = page.post("/book/visit", {"book": BOOK, "number": found["answer"]["number"], "version": ""})
    return str(told.json()["version"])


def sent(page: Served, path: str, version: str, **more: Any) -> Any:
    return page.post(f"/book/{path}", {"book": BOOK, "key": "anna", "version": version, **more})


def _version(page: Served) -> str:
    with open_casebook(page.folder / BOOK) as book:
        return person_version(book.person("anna"))


def test_a_casebook_is_opened_only_where_there_is_one(page: Served) -> None:
    first = page.client.get("/").text
    assert (">Open the casebook" in first, ">Begin a casebook" in first) == (False, True)
    assert f'href="/casebook/{BOOK}"' in first
    begun(page)
    then = page.client.get("/").text
    assert (">Open the casebook" in then, ">Begin a casebook" in then) == (True, False)
    assert f'href="/casebook/{BOOK}"' in then


def test_a_visit_is_that_of_the_command(page: Served, tmp_path: Path) -> None:
    version = begun(page, note="came by herself")
    other = tmp_path / "other.casebook"
    typed = ["casebook", "add", "anna", str(page.folder / "mine.yaml"), "--casebook", str(other)]
    typed += ["--catalog", str(page.catalog)]
    ended = CliRunner().invoke(deskmend, [*typed, "--on", "2026-03-01", "--note", "came by herself"])
    assert ended.exit_code == 0, ended.output
    with open_casebook(page.folder / BOOK) as here, open_casebook(other) as there:
        assert here.person("anna") == there.person("anna")
    assert version


def test_reading_changes_nothing(page: Served) -> None:
    assert page.client.get(f"/casebook/{BOOK}").status_code == 200
    assert not (page.folder / BOOK).exists(), "to look makes no casebook"
    begun(page)
    before = (page.folder / BOOK).read_bytes()
    for path in (f"/casebook/{BOOK}", f"/casebook/{BOOK}/anna", "/"):
        assert page.client.get(path).status_code == 200
    assert (page.folder / BOOK).read_bytes() == before
    for path in ("ask", "visit", "drawn", "next", "done", "felt", "learn", "share", "erase"):
        assert page.client.get(f"/book/{path}").status_code == 405
        assert page.post(f"/book/{path}", {}, origin="http://evil.example").status_code == 403
        assert page.post(f"/book/{path}", {}).status_code == 400


def test_done_and_felt_are_kept_and_told(page: Served) -> None:
    version = begun(page)
    with open_casebook(page.folder / BOOK) as book:
        name = book.person("anna").visits[0].steps[0].name
    told = {
        "fixes": [name, "bell"],
        "given_up": False,
        "paid": "1.50",
        "why": "",
        "day": "2026-03-02",
        "note": "",
    }
    version = sent(page, "done", version, **told).json()["version"]
    for day, rating in (("2026-03-02", "8"), ("2026-03-20", "3")):
        rated = {"ratings": {"neck": rating}, "day": day, "note": ""}
        version = sent(page, "felt", version, **rated).json()["version"]
    shown = page.client.get(f"/casebook/{BOOK}/anna").text
    assert "clearly changed: less" in shown
    assert "This says nothing of what it comes from" in shown
    with open_casebook(page.folder / BOOK) as book:
        person = book.person("anna")
    assert [(one.name, one.paid, one.paid_with, one.state) for one in person.done] == [
        (name, 150, "", "kept"),
        ("bell", None, name, "kept"),
    ]
    assert f"paid with {name}" in shown
    assert [(one.day, one.rating) for one in person.felt] == [(date(2026, 3, 2), 8), (date(2026, 3, 20), 3)]


@pytest.mark.parametrize(
    ("path", "told", "field"),
    [
        ("done", {"fixes": [], "paid": "", "why": "", "day": "", "note": ""}, "Steps"),
        ("done", {"fixes": ["no_such"], "paid": "x", "why": "", "day": "", "note": ""}, "Paid"),
        ("done", {"fixes": ["bell"], "paid": "", "why": "", "day": "2026-02-30", "note": ""}, "Day"),
        ("felt", {"ratings": {}, "day": "", "note": ""}, "How it felt"),
        ("felt", {"ratings": {"neck": "11"}, "day": "", "note": ""}, "neck"),
        ("erase", {"again": "ana"}, "Key"),
    ],
)
def test_what_cannot_be_taken_is_told_by_its_field(
    page: Served, path: str, told: dict[str, Any], field: str
) -> None:
    version = begun(page)
    answer = sent(page, path, version, **told)
    assert answer.status_code == 200
    assert field in [one["where"] for one in answer.json()["faults"]]
    with open_casebook(page.folder / BOOK) as book:
        person = book.person("anna")
    assert (person.done, len(person.visits)) == ((), 1)


def test_two_windows_at_once_and_the_second_is_told(page: Served) -> None:
    version = begun(page)
    rated = {"ratings": {"neck": "5"}, "day": "2026-03-02", "note": ""}
    assert sent(page, "felt", version, **rated).status_code == 200
    before = (page.folder / BOOK).read_bytes()
    again = sent(page, "felt", version, **rated)
    assert again.status_code == 409
    assert "Nothing was written" in again.text
    assert sent(page, "erase", version, again="anna").status_code == 409
    found = asked(page, "visit", "Anna")
    told = {"book": BOOK, "number": found["answer"]["number"], "version": ""}
    assert "nobody" in page.post("/book/visit", told).json()["faults"][0]["allowed"]
    assert (page.folder / BOOK).read_bytes() == before


def test_a_recheck_is_shown_then_written_only_where_asked(page: Served) -> None:
    version = begun(page)
    before = (page.folder / BOOK).read_bytes()
    found = asked(page, "recheck", "anna", version, day="2026-03-15")
    # a task may be done sitting and standing: each drawing says which it is
    assert "<h3>Drawn side by side: Sitting</h3>" in found["answer"]["html"]
    html = found["answer"]["html"]
    assert "Nothing of the plan stands in the casebook as done." in html
    assert html.count("<svg") >= 2
    assert "held" not in found["answer"]
    assert (page.folder / BOOK).read_bytes() == before
    number = found["answer"]["number"]
    drawn = page.post("/book/drawn", {"book": BOOK, "number": number, "version": version}).json()
    assert (page.folder / drawn["file"]).read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    followed = [
        page.post("/book/next", {"book": BOOK, "number": number, "version": _version(page)}).json()["file"]
        for _ in range(2)
    ]
    assert followed == ["anna_next.yaml", "anna_next2.yaml"]
    case = case_of_bytes((page.folder / followed[0]).read_bytes(), "next")
    assert (case.in_place, case.title) == ((), case_of_bytes(CASE_TEXT.encode(), "case").title)
    kept = page.post("/book/visit", {"book": BOOK, "number": number, "version": _version(page)})
    assert kept.status_code == 200
    with open_casebook(page.folder / BOOK) as book:
        person = book.person("anna")
    assert [one.day for one in person.visits] == [date(2026, 3, 1), date(2026, 3, 15)]
    assert [one.what for one in person.exports] == ["recheck", "case", "case"]


def test_shared_counts_keep_to_groups_of_five(page: Served) -> None:
    with open_casebook(page.folder / BOOK, create=True) as book:
        for number in range(4):
            book.add_visit(f"p{number}", visit("bell"))
    assert "nothing may be shared" in page.client.get(f"/casebook/{BOOK}").text
    told = {"book": BOOK, "name": "counts"}
    assert page.post("/book/share", told).status_code == 400
    assert page.post("/book/learn", told).status_code == 400
    with open_casebook(page.folder / BOOK) as book:
        book.add_visit("p4", visit("bell"))
    assert page.post("/book/share", told).json()["file"] == "counts.csv"
    assert page.post("/book/share", told).status_code == 409, "never over a file that is there"
    assert page.post("/book/share", {**told, "name": "../counts"}).status_code == 404
    with open_casebook(page.folder / BOOK) as book:
        assert len(book.person("p4").exports) == 1


def test_erasing_leaves_nothing_and_tells_what_stays(page: Served) -> None:
    version = begun(page, note="qznote")
    told = sent(page, "erase", version, again="anna").json()
    assert "nothing of it is left there" in told["html"]
    assert str(page.folder / "mine.yaml") in told["html"]
    assert b"qznote" not in (page.folder / BOOK).read_bytes()
    assert page.client.get(f"/casebook/{BOOK}/anna").status_code == 404


def test_what_was_typed_runs_nowhere(page: Served) -> None:
    with open_casebook(page.folder / BOOK, create=True) as book:
        book.add_visit("anna", visit("bell"), felt(("neck", 3, 1)), note=HOSTILE)
    shown = page.client.get(f"/casebook/{BOOK}/anna").text
    assert "&lt;script&gt;alert(1)" in shown
    assert Tags(shown).foreign == []


@pytest.mark.parametrize(
    "name", ["../x.casebook", "sub/x.casebook", "mine.yaml", ".x.casebook", "far.casebook"]
)
def test_no_casebook_leads_out_of_the_folder(page: Served, tmp_path: Path, name: str) -> None:
    open_casebook(tmp_path / "far.casebook", create=True).close()
    (page.folder / "far.casebook").symlink_to(tmp_path / "far.casebook")
    with pytest.raises(NotInFolder):
        CaseFolder(page.folder).book(name)
    assert page.post("/book/share", {"book": name, "name": "x"}).status_code == 404
    assert CaseFolder(page.folder).books() == []


def test_what_is_no_casebook_is_told(page: Served) -> None:
    (page.folder / BOOK).write_text("not a casebook", encoding="utf-8")
    shown = page.client.get(f"/casebook/{BOOK}")
    assert shown.status_code == 200
    assert "cannot be read as a casebook" in shown.text
