"""What the screens say: plans, wishes, answers and new cases as the commands have them; no script."""

from __future__ import annotations

import json
import re
import time
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from tests.casebook.books import CASE_TEXT
from tests.catalog.small_catalog import write
from tests.planning.cases import plain

from deskmend.intake.case_file import case_of_bytes, load_case
from deskmend.intake.catalog import load_catalog, shipped_folder, text_digest
from deskmend.intake.prices import load_prices
from deskmend.local_page.engine import LEFT_ALONE, EngineProcess, Inquiry, Manner
from deskmend.local_page.rendering import inlined, words
from deskmend.local_page.views import wish_rows
from deskmend.measures import MILLION
from deskmend.planning.assessment import assess
from deskmend.planning.budgets import compared
from deskmend.planning.inputs import find_prices
from deskmend.planning.plan import budget_plans, plan, planned
from deskmend.planning.ready_case import prepare
from deskmend.report.html.page import page_html
from deskmend.report.words import strain_text

from .served import Served, case_text

HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'&"
MODULES = (
    "cases.js",
    "strain.js",
    "plan.js",
    "handing.js",
    "picture.js",
    "answering.js",
    "begin.js",
    "book.js",
    "person.js",
)
FEW = {
    "places__0__seat__height": "445",
    "places__0__desk__height": "720",
    "places__0__desk__underside": "690",
}


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Served:
    folder = tmp_path_factory.mktemp("cases")
    (folder / "mine.yaml").write_text(case_text(**FEW), encoding="utf-8")
    case = plain(**FEW)
    case["title"] = case["notes"] = HOSTILE
    (folder / "hostile.yaml").write_text(json.dumps(case), encoding="utf-8")
    return Served(folder)


class Tags(HTMLParser):
    """Every tag and what could run in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    @property
    def foreign(self) -> list[Any]:
        return [
            (tag, attrs)
            for tag, attrs in self.found
            if tag in ("img", "iframe", "object", "embed", "base")
            or (tag == "script" and attrs.get("type") not in ("module", "application/json"))
            or any(name.startswith("on") or name == "style" for name in attrs)
        ]


def test_a_plan_is_the_one_of_the_command(page: Served) -> None:
    told = page.answer("plan", "mine.yaml")
    assert told["state"] == "done"
    answer = told["answer"]
    case = load_case(page.folder / "mine.yaml")
    catalog = load_catalog()
    ready = prepare(case, catalog, load_prices(catalog.price_folder / "sample_eur.csv"))
    rungs = compared(ready).rungs
    assert [(rung["cost"], rung["strain"]) for rung in answer["rungs"]] == [(r.cost, r.strain) for r in rungs]
    best = planned(ready)
    assert answer["rungs"][answer["chosen"]]["cost"] == best.cost
    assert answer["now_strain"] == best.before.total
    assert f"{best.after.total / MILLION:.1f}" in answer["told"]
    assert answer["own"] is True
    # another budget of the same case, and wishes tried without being written
    free = page.answer("plan", "mine.yaml", cost=0)["answer"]
    assert free["rungs"][free["chosen"]]["cost"] <= 0
    step = next(one.option for one in best.steps)
    name = step.with_name.partition("=")[0]
    without = page.answer("plan", "mine.yaml", must=[], never=[name])["answer"]
    assert without["own"] is False
    assert f'data-name="{name}" data-wish="never" aria-pressed="true"' in without["wishes"]
    assert load_case(page.folder / "mine.yaml").wishes.never == ()
    both = page.answer(
        "beside", "mine.yaml", first={"must": [], "never": [], "cost": best.cost},
        second={"must": [], "never": [name], "cost": best.cost},
    )["answer"]  # fmt: skip
    assert both["html"].count('<div class="side">') == 2


def test_without_a_budget_the_plan_shown_first_is_the_one_of_the_command(tmp_path: Path) -> None:
    # nothing is free here, and no budget stands out: the first plan does nothing, and is no answer
    case = plain(**{**FEW, "places__0__seat__height": "430", "means__budget": None})
    (tmp_path / "mine.yaml").write_text(json.dumps(case), encoding="utf-8")
    catalog = load_catalog()
    ready = prepare(
        load_case(tmp_path / "mine.yaml"), catalog, load_prices(catalog.price_folder / "sample_eur.csv")
    )
    best = planned(ready)
    assert best.steps
    answer = Served(tmp_path).answer("plan", "mine.yaml")["answer"]
    assert answer["rungs"][0]["strain"] == answer["now_strain"]
    assert answer["rungs"][answer["chosen"]]["cost"] == best.cost > 0


def test_what_cannot_be_is_told_with_its_wishes(page: Served) -> None:
    told = page.answer("plan", "mine.yaml", must=["no_such_fix"], never=[])
    assert told["state"] == "faults"
    told = page.answer("strain", "mine.yaml")
    assert told["state"] == "done"


def test_two_wishes_for_one_thing_are_told_as_wishes_each_to_be_given_up(page: Served) -> None:
    both = ["den.seat_cushion", "den.seat_blanket"]
    told = page.answer("plan", "mine.yaml", must=["break_timer", *both], never=[])
    assert told["state"] == "no_plan"
    assert [one["name"] for one in told["answer"]["must"]] == both
    assert all(one["title"] in told["answer"]["hinders"] for one in told["answer"]["must"])
    # what names nothing is no such clash
    assert page.answer("plan", "mine.yaml", must=[*both, "no_such_fix"], never=[])["state"] == "faults"


def test_no_text_of_a_case_becomes_markup(page: Served) -> None:
    for screen in (
        "/",
        "/plan/hostile.yaml",
        "/strain/hostile.yaml",
        "/answers/hostile.yaml",
        "/picture/hostile.yaml",
    ):
        html = page.client.get(screen).text
        assert HOSTILE not in html
        assert Tags(html).foreign == []
    for what in ("strain", "plan", "answers"):
        answer = page.answer(what, "hostile.yaml")["answer"]
        pieces = [answer[key] for key in ("html", "notes", "drawing", "steps", "wishes") if key in answer]
        assert pieces
        assert [Tags(one).foreign for one in pieces] == [[] for _ in pieces]
    wish = page.answer("plan", "mine.yaml", must=[HOSTILE], never=[])
    assert wish["state"] == "faults"


def test_every_module_is_let_in_whole_by_its_hash(page: Served) -> None:
    for name in MODULES:
        script = inlined(name)
        assert not re.search(r"^(import|export) ", script, re.MULTILINE)
        assert "</script" not in script
    shown = page.client.get("/plan/mine.yaml")
    assert shown.text.count("<script") == 2
    assert "script-src 'sha256-" in shown.headers["content-security-policy"]


def remarks(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.startswith("#")]


def answer_to(page: Served, text: str, case: str) -> Any:
    return page.post("/answer", {**asked_of(page, case), "text": text})


def asked_of(page: Served, case: str) -> dict[str, str]:
    version = text_digest((page.folder / case).read_bytes())
    return {"case": case, "version": version, "where": "places.0.seat.height", "key": "seat.height"}


def test_an_answer_is_taken_asked_back_or_refused(page: Served) -> None:
    text = "# mine\nformat: deskmend-case/1\n"
    rest = plain(**FEW)
    del rest["format"]
    text += "".join(f"# about {key}\n{key}: {json.dumps(value)}\n" for key, value in rest.items())
    path = page.folder / "remarks.yaml"
    path.write_text(text, encoding="utf-8")
    asked = answer_to(page, "4,65 m", case="remarks.yaml").json()
    assert asked["meant"] == "465"
    assert asked["words"] == "465 mm"
    assert path.read_text(encoding="utf-8") == text
    for wrong in ("x", HOSTILE, "-3", "9" * 500):
        assert "version" not in answer_to(page, wrong, case="remarks.yaml").json()
    assert path.read_text(encoding="utf-8") == text
    agreed = {**asked_of(page, "remarks.yaml"), "text": "yes", "meant": asked["meant"]}
    taken = page.post("/answer", agreed).json()
    assert taken["version"] == text_digest(path.read_bytes())
    assert load_case(path).places[0].seat is not None
    assert load_case(path).places[0].seat.height == 465  # type: ignore[union-attr]
    kept = path.read_text(encoding="utf-8")
    assert kept.startswith("# mine\n")
    assert [line for line in text.splitlines() if line[0] == "#"] == [
        x for x in kept.splitlines() if x[0] == "#"
    ]
    assert page.answer("answers", "remarks.yaml")["state"] == "done"


def test_a_new_case_is_written_once(page: Served) -> None:
    told = {"name": "another", "text": case_text()}
    assert page.client.get("/new").status_code == 200
    assert page.post("/begin", told).json() == {"case": "another.yaml"}
    assert page.post("/begin", told).status_code == 409
    for name in ("../another", "a/b", ".hidden", "", HOSTILE):
        refused = page.post("/begin", {**told, "name": name})
        assert (refused.status_code, refused.text[:28]) == (400, "Give the file a name of lett")
    assert page.post("/begin", {"name": "bad", "text": "format: deskmend-case/1\n"}).status_code == 422
    assert (page.folder / "another.yaml").read_text(encoding="utf-8") == told["text"]


def test_figures_that_come_early_are_those_of_the_answer(page: Served) -> None:
    heard: list[dict[str, Any]] = []
    file = page.folder / "mine.yaml"
    given = {"file": str(file), "data": file.read_bytes(), "name": "mine.yaml", "cost": 0}
    whole = page.engine.cases.answer("plan", given, heard.append)
    (early,) = heard
    assert {key: whole[key] for key in early} == early
    assert {"rungs", "chosen", "told", "must", "never"} <= set(early)


def test_what_is_held_is_never_sent_not_even_as_it_ends(page: Served) -> None:
    # the engine's thread sets the answer, then the state: a request may come between the two
    asked = Inquiry("page", {})
    asked.answer, asked.state = {"held": object()}, "working"
    page.engine.known[asked.number] = asked
    told = page.client.get(f"/asked/{asked.number}").json()
    assert (told["state"], told["answer"]) == ("working", None)
    asked.end("done", {"held": object(), "told": "so"})
    told = page.client.get(f"/asked/{asked.number}").json()
    assert told["answer"] == {"told": "so", "number": asked.number}


def test_each_reader_has_a_file(page: Served) -> None:
    told = page.answer("page", "hostile.yaml", reader="employer")
    number = told["answer"]["number"]
    made = page.client.get(f"/made/{number}")
    assert "frame-ancestors 'none'" in made.headers["content-security-policy"]
    assert HOSTILE not in made.text
    assert made.text.count("<script") <= 1
    assert page.post("/keep", {"number": number}).json() == {"file": "hostile_employer.html"}
    assert (page.folder / "hostile_employer.html").read_text(encoding="utf-8") == made.text
    assert page.post("/ask", {"what": "page", "case": "mine.yaml", "reader": "x"}).status_code == 400
    # the plans of the case made ready give the page that the command writes, to the byte
    case, catalog = load_case(page.folder / "hostile.yaml"), load_catalog()
    found = find_prices(case, catalog)
    plans = budget_plans(case, catalog, found.table, notes=found.warnings)
    assert made.text == page_html(plans, catalog, found.table, reader="employer")


def test_in_spanish(page: Served) -> None:
    served = Served(page.folder, language="es")
    assert '<html lang="es">' in served.client.get("/plan/mine.yaml").text


def test_the_engine_is_stopped_and_starts_anew(page: Served) -> None:
    """One process, killed in the middle of its work: the next question is answered by another."""
    data = (page.folder / "mine.yaml").read_bytes()
    given = {"file": str(page.folder / "mine.yaml"), "data": data, "name": "mine.yaml"}
    engine = EngineProcess(None, None, Manner("en", "mm"))
    try:
        first, waiting = engine.ask("warm", {}), engine.ask("warm", {})
        assert first is not None
        assert waiting is not None
        engine.stop(waiting)
        pid = engine.pid
        engine.stop(first)
        assert first.state == waiting.state == "stopped"
        last = engine.ask("strain", given)
        assert last is not None
        end = time.monotonic() + 600
        while not last.ended.wait(0.1) and time.monotonic() < end:
            last.looked_at = time.monotonic()
        assert last.state == "done"
        assert last.answer["told"].startswith("Strain ")
        assert "data" not in last.given, "no file is kept longer than it is worked on"
        assert engine.find(last.number) is last
        left = engine.ask("strain", given)
        assert left is not None
        left.looked_at -= LEFT_ALONE + 1
        assert left.ended.wait(30)
        assert engine.pid is not None
        assert pid is not None
    finally:
        engine.close()


def test_other_fixes_say_what_the_plan_would_be_with_them(tmp_path: Path) -> None:
    """As an assessment of the same fixes has it, and that of the size that leaves least."""
    folder = write(tmp_path)
    shop = load_catalog(folder), load_prices(folder / "prices.csv")
    case = case_of_bytes(CASE_TEXT.encode(), "case")
    ready, best = prepare(case, *shop), plan(case, *shop, 0)
    names = [step.option.with_name for step in best.steps]
    told = {row.name: row.without for row in wish_rows(best, ready.offers, *shop, ((), ()))[1]}
    for row, without in told.items():
        assert without
        for left in re.findall(r"([0-9.]+) left", without):
            size = re.search(r"At ([0-9]+) mm", without)
            there = assess(case, *shop, [*names, row + (f"={size[1]}" if size else "")])
            assert strain_text(there.strain.total) == left
    assert told["den.crate_feet"].startswith("At ")
    assert told["den.crate_feet"].endswith("It costs 2.00 EUR more.")


def test_a_folder_is_read_as_it_is(tmp_path: Path) -> None:
    page = Served(tmp_path)
    assert "No case here yet" in page.client.get("/").text
    assert page.post("/example", {}).status_code == 200
    assert page.post("/example", {}).status_code == 409
    example = tmp_path / "example"
    assert load_case(example / "case.yaml").title
    scenario = shipped_folder("scenarios") / "kitchen_books"
    assert {one.name: one.read_bytes() for one in example.iterdir()} == {
        one.name: one.read_bytes() for one in scenario.iterdir()
    }, "prices and all"
    (tmp_path / "broken.yaml").write_text("format: deskmend-case/1\nseat: 3\n", encoding="utf-8")
    assert "Cannot be read" in page.client.get("/").text


def test_every_word_is_said_and_every_one_said_is_known() -> None:
    folder = files("deskmend.local_page")
    text = "".join(
        one.read_text(encoding="utf-8")
        for part in ("templates", "modules")
        for one in folder.joinpath(part).iterdir()
    )
    known = {name for name in words() if not name.startswith("for_")}
    assert [name for name in known if not re.search(rf'words\.{name}\b|"{name}"', text)] == []
    assert set(re.findall(r'\bword\("(\w+)"', text)) - set(words()) == set()
