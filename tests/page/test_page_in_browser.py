"""The page in a browser: slider by keyboard and pointer, print, accessibility, no request and no error."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_selenium_python import Axe
from selenium.webdriver import Keys
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.pointer_input import PointerInput
from tests.planning.whole_cases import whole_case
from tests.stages import NOW, draws, some

from deskmend.intake.catalog import load_catalog
from deskmend.measures import MILLION
from deskmend.planning.score import PLAIN, score
from deskmend.report.drawing.person import looked_at
from deskmend.report.drawing.side import side_view
from deskmend.report.steps import short_text
from deskmend.report.words import money_text, strain_text
from deskmend.workstation.state import evaluate, state_of

from .browser import DESK, PAPERS, PHONE, Browser
from .pages import LOOKED_AT, SCENARIOS, Made, comparison_in, made, page_of, varied
from .test_drawings import STATURES, extreme

pytestmark = pytest.mark.both
FIRST_OF_STEPS = "How to do each step"
WITH_PLANS = [one for one in LOOKED_AT if "nothing_amiss" not in getattr(one, "values", [one])]
"""Where there is something to choose; a good workplace has no slider."""


SHOWN = """
const all = selector => [...document.querySelectorAll(selector)].filter(one => one.getClientRects().length);
document.querySelectorAll('.rung:not([hidden]) details').forEach(one => { one.open = true; });
const text = selector => all(selector).map(one => one.textContent.trim());
return {
  name: text('#money-name span').join(' '),
  how: new Set(all('.rung .how').map(one => one.getAttribute('href'))).size,
  summary: text('.rung .summary').join(' '),
  steps: all('.rung .steps li:not(.bundle)').length,
  bought: all('.rung .buy li').length,
  bars: all('.bars tbody tr td:nth-child(3)').map(one => one.innerText.trim()).sort(),
  eyes: all('.drawing .last .eye:not(.now)').map(one => Number(one.getAttribute('cy'))),
};
"""
"""What the page shows of the plan at the slider's place."""
WATCH = """
window.seen = [];
const slider = document.getElementById('money');
slider.addEventListener('input', () => window.seen.push([slider.value, window.look()]));
"""
"""Keeps what is shown at every place that the slider comes to."""


def wanted(page: Made, number: int) -> dict[str, Any]:
    """What it should show, from the comparison that the command writes."""
    rung = comparison_in(page.html)["rungs"][number]
    plan = page.plans.plans[number]
    money = money_text(plan.cost, plan.currency)
    left = strain_text(round(rung["strain"] * MILLION))
    assert money == f"{rung['cost']} {page.plans.comparison.currency}"
    # Every stage lists what is done for it: what comes in, is set anew or is undone; each size has its card.
    done = [change for stage in plan.stages for change in stage.changes]
    assert {one.with_name for one in plan.stages[-1].options} == set(rung["with"])
    return {
        "name": f"{money}, strain {left}",
        "steps": len(done),
        "bought": len(rung["shopping"]),
        "left": left,
        "bars": sorted(
            strain_text(round(value * MILLION))
            for region, value in rung["by_region"].items()
            if value or comparison_in(page.html)["by_region_before"][region]
        ),
    }


def cards_of_page(page: Made) -> list[set[int]]:
    """For which budgets each way of doing a fix stands on the page."""
    found = re.findall(r'<details class="card" data-rungs="([\d ]+)"', page.html)
    return [set(map(int, one.split())) for one in found]


def agrees(page: Made, shown: dict[str, Any], number: int) -> None:
    """List, drawing and bars agree with the comparison."""
    right = wanted(page, number)
    for name in ("name", "steps", "bought", "bars"):
        assert shown[name] == right[name], name
    shown_cards = [card for card in cards_of_page(page) if number in card]
    assert shown["how"] == len(shown_cards)
    if right["steps"]:
        assert f"With this plan it is {right['left']}." in shown["summary"]
    state = page.plans.plans[number].state_after
    for task, eye in zip(state.tasks, shown["eyes"], strict=False):
        ask = evaluate(state, task)
        if float(ask("trunk_inclination", mode="sit", target=looked_at(state, task))) == 0.0:
            assert eye == pytest.approx(float(ask("eye_height", mode="sit")), abs=1e-3)


@pytest.mark.parametrize("scenario", WITH_PLANS)
def test_every_place_of_the_slider_agrees_with_the_comparison(browser: Browser, scenario: str) -> None:
    page = page_of(scenario)
    browser.show(page.html)
    slider = browser.one("#money")
    assert int(slider.get_attribute("value") or -1) == page.plans.chosen
    agrees(page, browser.run(SHOWN), page.plans.chosen)
    slider.send_keys(Keys.HOME)
    for number in range(len(page.plans.plans)):
        assert slider.get_attribute("value") == str(number)
        agrees(page, browser.run(SHOWN), number)
        assert slider.get_attribute("aria-valuetext") == wanted(page, number)["name"]
        slider.send_keys(Keys.ARROW_RIGHT)
    assert slider.get_attribute("value") == str(len(page.plans.plans) - 1)
    assert browser.console() == []


@pytest.mark.parametrize(
    ("size", "kind"), [(PHONE, "touch"), pytest.param(DESK, "mouse", marks=pytest.mark.thorough)]
)
def test_the_slider_follows_the_pointer(browser: Browser, size: tuple[int, int], kind: str) -> None:
    page = page_of("kitchen_books")
    browser.show(page.html, size)
    slider = browser.one("#money")
    half = slider.size["width"] // 2 - 6
    browser.run(f"window.look = () => {{ {SHOWN} }};" + WATCH)
    # One chain: between two the driver lets go of the pointer.
    builder = ActionBuilder(browser.driver, mouse=PointerInput(kind, f"{kind} pointer"), duration=100)
    hand = builder.pointer_action
    hand.move_to(slider, -half, 0).pointer_down()
    for place in (-half // 2, 0, half // 2, half):
        hand.move_to(slider, place, 0)
    hand.pointer_up()
    builder.perform()
    seen = browser.run("return window.seen")
    for number, shown in seen:
        agrees(page, shown, int(number))
    places = [int(number) for number, _ in seen]
    assert places == sorted(places)
    assert places[-1] == len(page.plans.plans) - 1
    assert len(set(places)) >= min(4, len(page.plans.plans))


@pytest.mark.parametrize("scenario", WITH_PLANS)
def test_nothing_is_asked_of_any_network(browser: Browser, scenario: str) -> None:
    browser.show(page_of(scenario).html)
    browser.one("#money").send_keys(Keys.ARROW_LEFT)
    for link in browser.all("nav a"):
        link.click()
    asked = {address for address in browser.requests() if not address.startswith("data:")}
    assert {address.partition("#")[0] for address in asked} == {(browser.folder / "page.html").as_uri()}
    assert browser.console() == []


MOVE = """
const slider = document.getElementById('money');
if (slider) { slider.value = arguments[0]; slider.dispatchEvent(new Event('input')); }
"""
"""Goes to one place of the slider."""


def pages_of(browser: Browser, page: Made, number: int, paper: str) -> list[str]:
    """What the plan of one budget prints, page by page; the two pages that matter and nothing else."""
    browser.run(MOVE, number)
    printed = browser.printed(paper)
    told = " ".join(" ".join(printed).split())
    assert len(printed) <= 2, (paper, number)
    assert FIRST_OF_STEPS not in told
    for step in page.plans.plans[number].steps:
        # its short text stands beside it
        assert short_text(step.option, step.before, step.after)[:24] in told
    return printed


@pytest.mark.thorough
@pytest.mark.parametrize("scenario", WITH_PLANS)
@pytest.mark.parametrize("paper", some(["A4", "Letter"], "A4"))
def test_the_workers_part_prints_on_two_pages(browser: Browser, scenario: str, paper: str) -> None:
    page = page_of(scenario)
    browser.show(page.html)
    last = len(page.plans.plans) - 1
    for number in range(last + 1) if NOW.thorough else {page.plans.chosen, last}:
        pages_of(browser, page, number, paper)


@pytest.mark.thorough
@pytest.mark.parametrize("scenario", WITH_PLANS)
def test_all_parts_print_on_request(browser: Browser, scenario: str) -> None:
    page = page_of(scenario)
    browser.show(page.html)
    browser.run(MOVE, len(page.plans.plans) - 1)
    browser.one("#print-all").click()
    printed = browser.printed("A4")
    assert any(FIRST_OF_STEPS in text for text in printed)
    together = " ".join(" ".join(printed).split())
    for heading in ("Today, for nothing", "Only if it happens", "For the assessor"):
        assert heading in together
    assert ("Then buy" in together) != ("This plan costs nothing." in together)
    # What is folded on the screen is printed.
    assert "What stands behind it:" in together
    assert "Money to spend" not in together


@pytest.mark.thorough
@pytest.mark.parametrize("seed", [*draws(0), 61_453, 305_156])
def test_drawn_cases_print_on_two_pages_at_every_budget(browser: Browser, seed: int) -> None:
    case, ready = whole_case(seed)
    if ready is None:
        pytest.skip("what must be is not to be had")
    page = made(case, load_catalog())
    browser.show(page.html)
    for number in range(len(page.plans.plans)):
        for paper in PAPERS:
            pages_of(browser, page, number, paper)


@pytest.mark.thorough
@pytest.mark.parametrize("scenario", LOOKED_AT)
@pytest.mark.parametrize(("size", "opened"), [(PHONE, True), (DESK, False)])
def test_axe_finds_no_violation(browser: Browser, scenario: str, size: tuple[int, int], opened: bool) -> None:
    browser.show(page_of(scenario).html, size)
    if opened:
        browser.run("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    axe = Axe(browser.driver)
    axe.inject()
    found = axe.run()
    assert len(found["passes"]) > 20
    told = {one["id"]: [node["target"] for node in one["nodes"]] for one in found["violations"]}
    assert told == {}


LETTERS = """
const drawn = [...document.querySelectorAll("figure svg[role=img], .pieces svg")];
const shown = drawn.filter(one => one.clientWidth > 0);
return shown.flatMap(svg => [...svg.querySelectorAll("text")].map(one => [
  one.textContent, one.classList.contains("number"),
  parseFloat(getComputedStyle(one).fontSize) * svg.getScreenCTM().a]));
"""


@pytest.mark.parametrize("size", some([PHONE, DESK], PHONE))
def test_the_page_is_no_wider_than_its_window(browser: Browser, size: tuple[int, int]) -> None:
    for scenario in SCENARIOS if NOW.thorough else ("counter_calls", "kitchen_books"):
        browser.show(page_of(scenario).html, size)
        browser.run("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        browser.run("document.querySelectorAll('.rung:not([hidden]) .how').forEach(one => { one.click(); })")
        assert browser.run("return document.documentElement.scrollWidth") <= size[0]
        written = browser.run(LETTERS)
        assert len(written) > 5
        small = [(text, px) for text, number, px in written if px < (12.0 if number else 14.0)]
        assert small == [], "names in drawings are 14 px at least, figures in discs 12"


def test_all_is_reached_by_keyboard_in_the_order_it_is_read(browser: Browser) -> None:
    browser.show(page_of("counter_calls").html)
    places = []
    for _ in range(60):
        browser.driver.switch_to.active_element.send_keys(Keys.TAB)
        place = browser.run(
            "const one = document.activeElement;"
            "return one === document.body ? null : [one.tagName, one.id,"
            " [...document.querySelectorAll('*')].indexOf(one)]"
        )
        if place is None or (places and place[2] <= places[-1][2]):
            break
        places.append(place)
    assert places[0][0] == "A"
    assert "money" in [place[1] for place in places]
    assert [place[2] for place in places] == sorted(place[2] for place in places)
    assert len([place for place in places if place[0] == "SUMMARY"]) >= 3


@pytest.mark.thorough
def test_ticks_survive_a_reload_and_serve_every_budget(browser: Browser) -> None:
    browser.show(page_of("counter_calls").html)
    box = browser.all("[data-tick]")[0]
    name = box.get_attribute("data-tick")
    box.click()
    browser.driver.refresh()
    ticked = "return [...document.querySelectorAll('[data-tick]')].filter(one => one.checked)"
    kept = browser.run(f"{ticked}.map(one => one.dataset.tick)")
    assert set(kept) == {name}
    browser.all("[data-tick]")[0].click()
    browser.driver.refresh()
    assert browser.run(f"{ticked}.length") == 0
    assert browser.console() == []


@pytest.mark.thorough
def test_how_opens_at_its_step_and_everything_of_a_step_leads_there(browser: Browser) -> None:
    browser.show(page_of("counter_calls").html)
    browser.run("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert browser.all("#steps") == []
    how = browser.all(".rung .how")[0]
    target = (how.get_attribute("href") or "").partition("#")[2]
    assert how.get_attribute("aria-expanded") == "false"
    how.click()
    assert how.get_attribute("aria-expanded") == "true"
    inside = "return arguments[0].closest('li').contains(document.getElementById(arguments[1]))"
    assert browser.run(inside, how, target)
    # Where stages differ in it, each is told with its day before.
    assert "right when: " in browser.one(f"#{target}").text.lower()
    how.send_keys(Keys.SPACE)
    assert how.get_attribute("aria-expanded") == "false"
    assert not browser.run(inside, how, target)
    for link in browser.all(".rung .buy a"):
        link.click()
        row = browser.driver.switch_to.active_element
        assert row.get_attribute("href") == link.get_attribute("href")
        assert row.get_attribute("aria-expanded") == "true"
    # Another budget begins with all of it folded, and each step has its short text and cautions to print.
    browser.one("#money").send_keys(Keys.ARROW_LEFT)
    assert browser.run("return document.querySelectorAll('[aria-expanded=true]').length") == 0
    told = browser.run(
        "return [...document.querySelectorAll('.rung:not([hidden]) .how')].map(one =>"
        " [document.querySelector(one.getAttribute('href') + ' .short').textContent,"
        "  one.parentNode.querySelector('.sheet').textContent])"
    )
    assert told
    assert all(sheet.startswith(short) for short, sheet in told)
    assert browser.console() == []


def test_without_script_the_table_has_every_budget(browser: Browser) -> None:
    page = page_of("kitchen_books")
    browser.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.show(page.html)
        assert browser.all("#money") == []
        assert len(browser.all(".rung")) == 1
        rows = [row.text.split(" EUR")[0] for row in browser.all("#budgets tbody tr th")]
        assert rows[1:] == [rung["cost"] for rung in comparison_in(page.html)["rungs"]]
    finally:
        browser.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


HOSTILE = '<script>window.hit=1</script><b onclick="x">\'";&amp; \u05d0\u05d1 \U0001f600'


def test_hostile_text_stays_text(browser: Browser, tmp_path: Path) -> None:
    case = varied(tmp_path, "counter_calls", title=HOSTILE)
    browser.show(made(case, load_catalog(), at=(0,)).html)
    assert browser.one("h1").text == HOSTILE
    assert browser.driver.title == HOSTILE
    assert browser.run("return window.hit") is None
    assert browser.run("return document.querySelectorAll('h1 b, h1 script').length") == 0
    assert browser.console() == []


OVERLAPS = """
const boxes = [...document.querySelectorAll('svg text')].map(one => one.getBoundingClientRect());
const frame = document.querySelector('svg').getBoundingClientRect();
const out = [];
boxes.forEach((a, i) => {
  const inside = a.left > frame.left - 1 && a.right < frame.right + 1
    && a.top > frame.top - 1 && a.bottom < frame.bottom + 1;
  if (!inside) { out.push(['outside', i]); }
  boxes.slice(i + 1).forEach(b => {
    const apart = a.left >= b.right || b.left >= a.right || a.top >= b.bottom || b.top >= a.bottom;
    if (!apart) { out.push(['over', i]); }
  });
});
return out;
"""


def drawings(tmp_path: Path) -> Iterator[str]:
    """Side views at the ends: small and tall, table, stool and floor table, with much changed."""
    for stature in STATURES:
        for name in ("table", "stool", "floor"):
            before = state_of(extreme(tmp_path, name, stature))
            place: Any = ("place", before.places[0])
            after = before.with_values(
                {
                    (place, "seat.pad"): 40.0,
                    (place, "seat.height"): float(before.values[place, "seat.height"]) + 10.0,
                    (place, "feet.height"): 20.0,
                    (place, "feet.on"): "other",
                    (place, "screen.raise"): 20.0,
                    (place, "desk.height"): float(before.values[place, "desk.height"]) + 20.0,
                }
            )
            for task in before.tasks:
                yield side_view(before, after, task, "sit", score(before, PLAIN), score(after, PLAIN)).svg


@pytest.mark.thorough
def test_no_writing_in_a_drawing_stands_on_other_writing_at_the_ends(
    browser: Browser, tmp_path: Path
) -> None:
    page = page_of("counter_calls").html
    head = page[: page.index("<body>")]
    for svg in drawings(tmp_path):
        browser.show(f"{head}<body><figure class='side'>{svg}</figure></body></html>", PHONE)
        assert browser.run("return document.querySelectorAll('svg text').length") >= 4
        assert browser.run(OVERLAPS) == []
