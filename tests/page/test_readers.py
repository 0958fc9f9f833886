"""Pages for one reader alone, a plan changed by hand, and who hands it over."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner
from tests.planning.cases import CATALOG, GIVING_WAY, SAMPLE, made, plain

from deskmend.cli import deskmend
from deskmend.errors import InputFaults
from deskmend.intake.case import Case
from deskmend.intake.case_file import Sender, load_sender
from deskmend.planning.assessment import assess
from deskmend.planning.by_hand import plans_by_hand
from deskmend.planning.plan import BudgetPlans, NoPlan, budget_plans, plan
from deskmend.planning.worth import without_health
from deskmend.report.html.page import page_html
from deskmend.report.words import region_word, strain_text

pytestmark = pytest.mark.both
SIGN = next(sign for sign in CATALOG.signs if not sign.blocks)
HEALTH: dict[str, Any] = {
    "person__discomfort": {"neck": "7", "lower_back": "3"},
    "person__warning_signs": [SIGN.id],
}
FIXES = ("keyboard_basic", "mouse_basic", "den.screen_books=120", "den.seat_height=380")
SENDER = {
    "format": "deskmend-sender/1",
    "name": "Advice <for> desks",
    "address": ["1 Example Street"],
    "contact": "A. Person",
    "date": "28 November",
    "reference": "R-17",
    "notes": ["First remark.", "Second & last."],
}


@cache
def by_hand(ill: bool, fixes: tuple[str, ...] = FIXES) -> BudgetPlans:
    """The plan of some fixes, of two cases alike but for what troubles the person."""
    return plans_by_hand(made(**GIVING_WAY | (HEALTH if ill else {})), CATALOG, SAMPLE, fixes)


def text_of(html: str) -> str:
    """Words that a page shows, scripts and style left out."""
    bare = re.sub(r"<(script|style)>.*?</\1>", " ", html, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]*>", " ", bare).split())


def test_health_never_comes_into_the_employers_file() -> None:
    ill, well = by_hand(True), by_hand(False)
    assert ill.plans[0].before != well.plans[0].before
    first, second = (page_html(one, CATALOG, SAMPLE, reader="employer") for one in (ill, well))
    assert first == second
    told = text_of(first).lower()
    for region in ill.plans[0].before.by_region:
        assert region_word(region).lower() not in told
    assert SIGN.sign.lower() not in told
    assert ill.plans[0].case.title
    assert ill.plans[0].case.title.lower() not in told
    plain_before, plain_after = ill.plans[0].plain_before.total, ill.plans[0].plain_after.total
    assert f"from {strain_text(plain_before)} to {strain_text(plain_after)} strain-hours" in told
    assert "comparison" not in first
    for option in ill.plans[0].stages[-1].options:
        assert option.fix.title.lower() in told


def test_the_whole_page_tells_the_employer_the_same() -> None:
    whole = page_html(by_hand(True), CATALOG, SAMPLE)
    alone = page_html(by_hand(False), CATALOG, SAMPLE, reader="employer")
    parts = [html.partition('<section id="leave"')[2].partition("</section>")[0] for html in (whole, alone)]
    assert parts[0] == parts[1]


def test_what_leave_would_add_does_not_hang_on_health() -> None:
    case = made(**GIVING_WAY | HEALTH)
    assert without_health(case) == without_health(made(**GIVING_WAY))
    assert case.person.discomfort.neck == 7


@pytest.mark.parametrize(
    ("reader", "sections"),
    [("worker", ["plan", "steps", "worth"]), ("employer", ["leave"]), ("assessor", ["worth", "assessor"])],
)
def test_a_reader_gets_that_part_alone(reader: Any, sections: list[str]) -> None:
    html = page_html(by_hand(True), CATALOG, SAMPLE, reader=reader)
    assert re.findall(r'<section id="([a-z]+)"', html) == sections
    names = re.findall(r'\bid="([^"]*)"', html)
    assert {link[1:] for link in re.findall(r'href="(#[^"]*)"', html)} <= set(names)


def test_a_plan_by_hand_is_exactly_that_and_told_with_what_it_costs() -> None:
    case = made(**GIVING_WAY)
    plans = by_hand(False)
    shown = plans.plans[0]
    assert {option.with_name for option in shown.stages[-1].options} == set(FIXES)
    told = assess(case, CATALOG, SAMPLE, FIXES)
    assert (shown.after.total, shown.cost) == (told.strain.total, told.bill.total)
    best = plan(case, CATALOG, SAMPLE, shown.cost, every_gain=True)
    assert plans.by_hand is not None
    assert plans.by_hand.best == best.after.total
    less = shown.after.total - best.after.total
    assert less > 0
    html = text_of(page_html(plans, CATALOG, SAMPLE))
    assert "Put together by hand: exactly these steps." in html
    assert f"leaves {strain_text(best.after.total, 2)}: the change costs {strain_text(less, 2)}" in html


def test_a_size_left_open_gets_the_best_one_and_rules_are_kept() -> None:
    open_size = ("keyboard_basic", "mouse_basic", "screen_books", "den.seat_height=380")
    chosen = by_hand(False, open_size).plans[0]
    assert chosen.after.total <= by_hand(False).plans[0].after.total
    with pytest.raises(NoPlan, match="cannot be a plan by themselves"):
        by_hand(False, ("den.screen_books=120", "mouse_basic", "den.feet_book=80"))
    with pytest.raises(InputFaults, match="--with"):
        by_hand(False, ("den.feet_books=120",))


def test_wishes_are_told_with_what_they_cost() -> None:
    case = made(**GIVING_WAY)
    free = budget_plans(case, CATALOG, SAMPLE, 2000)
    kept = budget_plans(case, CATALOG, SAMPLE, 2000, never=["mouse_basic"])
    assert kept.by_hand is not None
    assert kept.by_hand.best == plan(case, CATALOG, SAMPLE, 2000, every_gain=True).after.total
    assert kept.by_hand.left > kept.by_hand.best
    html = text_of(page_html(kept, CATALOG, SAMPLE))
    assert f"Changed by hand: without {CATALOG.by_id['mouse_basic'].title}." in html
    assert "Changed by hand" not in text_of(page_html(free, CATALOG, SAMPLE))


def written(folder: Path, **changes: Any) -> Path:
    """A case file."""
    file = folder / "case.yaml"
    file.write_text(yaml.safe_dump(plain(**GIVING_WAY | changes)), encoding="utf-8")
    return file


def test_the_command_writes_a_part_with_its_sender(tmp_path: Path) -> None:
    sender, out = tmp_path / "sender.yaml", tmp_path / "part.html"
    sender.write_text(yaml.safe_dump(SENDER), encoding="utf-8")
    command = ["report", str(written(tmp_path)), "--out", str(out), "--for", "employer"]
    command += ["--sender", str(sender), *(part for fix in FIXES for part in ("--with", fix))]
    result = CliRunner().invoke(deskmend, command)
    assert result.exit_code == 0, result.output
    html = out.read_text(encoding="utf-8")
    assert "Advice &lt;for&gt; desks" in html
    for words in ("1 Example Street", "Date: 28 November", "Reference: R-17", "Whom to ask: A. Person"):
        assert words in text_of(html)
    assert "First remark." in html
    assert "Second &amp; last." in html
    refused = CliRunner().invoke(deskmend, [*command, "--never", "mouse_basic"])
    assert refused.exit_code == 2


def test_a_sender_file_is_checked(tmp_path: Path) -> None:
    file = tmp_path / "sender.yaml"
    file.write_text(yaml.safe_dump(SENDER | {"phone": "1"}), encoding="utf-8")
    with pytest.raises(InputFaults, match="unknown key"):
        load_sender(file)
    file.write_text("format: deskmend-sender/1\nname: We\n", encoding="utf-8")
    assert load_sender(file) == Sender(format="deskmend-sender/1", name="We")


def test_no_health_is_left_in_a_case_without_health() -> None:
    case: Case = without_health(made(**HEALTH))
    assert not case.person.warning_signs
    assert all(value is None for value in case.person.discomfort.model_dump().values())
