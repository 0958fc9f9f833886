"""The form in a browser: by keyboard alone and by touch, kept and erased, read aloud, narrow, inert."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from axe_selenium_python import Axe
from click.testing import CliRunner
from selenium.webdriver import ActionChains, Keys
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.pointer_input import PointerInput
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

from deskmend.cli import deskmend
from deskmend.intake.catalog import load_catalog
from deskmend.intake.interview import questions, read_answer, to_ask
from deskmend.language import LANGUAGES, reading
from deskmend.report.forms.measure_drawings import DRAWINGS, drawing_of
from deskmend.report.forms.travelling import form_html

from .browser import PHONE, Browser

CATALOG = load_catalog()
TYPED = {
    "task.hours": "5",
    "person.stature": "5'4",
    "seat.height": "46,5",
    "desk.height": "755mm",
    "laptop.screen_top": "23,2",
    "owns.book_thickness": "38mm 4,2cm 25mm",
    "body.popliteal_height": "1 A4 + 1 card",
    "task.spell": "90",
    "means.budget": "25,00",
}
CHOSEN = {
    "task.main": "laptop",
    "owns.books": "yes",
    "owns.towel": "yes",
    "owns.carton": "no",
    "person.warning_signs": "none",
    "task.reference": "paper",
    "paper.at": "left",
    "seat.back": "flat",
    "place.feet_on": "floor",
    "means.tools": "scissors",
}
THICK = "owns.book_thickness"
SCREEN = """
const shown = [...document.querySelectorAll('.question')].map(one => one.dataset.key);
return [shown, document.querySelector('h1').textContent, document.activeElement.id];
"""
CASE_TEXT = "return document.getElementById('case-text').value"
WIDE = "return document.documentElement.scrollWidth"


def form_in(language: str) -> str:
    with reading(language):
        return form_html(CATALOG)


def opened(browser: Browser, size: tuple[int, int] = PHONE, language: str = "en") -> None:
    browser.show(form_in(language), size)
    browser.run("localStorage.clear()")
    browser.driver.refresh()


def from_terminal(folder: Path) -> str:
    """The case of the same answers, given at a terminal."""
    file = folder / "case.yaml"
    lines = {
        **TYPED,
        **CHOSEN,
        "seat.height": "465",
        "owns.book_thickness": "38 42 25",
        "laptop.screen_top": "232",
        "means.currency": "EUR",
    }
    asked: list[str] = []
    every, answers = questions(CATALOG), dict[str, str | None]()
    while (one := to_ask(every, answers)) is not None:
        text = lines.get(one.key)
        asked.append(text or "")
        answers[one.key] = None if text is None else read_answer(one, text, answers, every)
    done = CliRunner().invoke(deskmend, ["new", str(file)], input="".join(f"{line}\n" for line in asked))
    assert done.exit_code == 0, done.output
    return file.read_text(encoding="utf-8")


def keys(browser: Browser, *pressed: str) -> None:
    ActionChains(browser.driver).send_keys(*pressed).perform()


TABS = """
const folded = one => one.tagName !== 'SUMMARY' && one.closest('details:not([open])');
const seen = [...document.querySelectorAll('h1, a, button, input, select, textarea, summary')]
  .filter(one => one.getClientRects().length && !folded(one));
const stops = seen.filter(one => one === document.activeElement || (one.tagName !== 'H1'
  && (one.type !== 'radio' || one === (document.querySelector(`input[name="${one.name}"]:checked`)
    || document.querySelector(`input[name="${one.name}"]`)))));
const to = stops.indexOf(arguments[0]), from = stops.indexOf(document.activeElement);
return from < 0 ? to + 1 : (to - from + stops.length) % stops.length;
"""


def tab_to(browser: Browser, element: WebElement) -> None:
    """Go to an element as a keyboard does: so many Tabs as it should take, and it must be there then."""
    keys(browser, *[Keys.TAB] * browser.run(TABS, element))
    assert browser.driver.switch_to.active_element == element, element.get_attribute("outerHTML")


def test_by_keyboard_alone_it_gives_the_case_of_the_terminal(browser: Browser, tmp_path: Path) -> None:
    opened(browser)
    tab_to(browser, browser.one(".actions .strong"))
    keys(browser, Keys.ENTER)
    seen = []
    for _ in range(60):
        shown, title, _ = browser.run(SCREEN)
        seen.append(title)
        if not shown:
            buttons = browser.all(".actions .strong")
            if browser.driver.find_elements(By.ID, "case-text"):
                break
            tab_to(browser, buttons[0])
            keys(browser, Keys.ENTER)
            continue
        # How thick they are is asked for on the same screen once there are books.
        for key in [each for one in shown for each in ((one, THICK) if one == "owns.books" else (one,))]:
            fill_by_keys(browser, key)
        tab_to(browser, browser.one("button[type=submit]"))
        keys(browser, Keys.ENTER)
    assert browser.run(CASE_TEXT) == from_terminal(tmp_path)
    assert len(seen) == len(dict.fromkeys(seen))
    assert browser.console() == []
    assert {one for one in browser.requests() if not one.startswith("file:")} == set()


def fill_by_keys(browser: Browser, key: str) -> None:
    if key in CHOSEN:
        chosen = browser.driver.find_element(
            By.CSS_SELECTOR, f"[data-key='{key}'] input[value='{CHOSEN[key]}'], [data-key='{key}'] option"
        )
        group = browser.driver.find_elements(By.CSS_SELECTOR, f"[data-key='{key}'] input[type=radio]")
        if not group:
            tab_to(browser, chosen)
            keys(browser, Keys.SPACE)
            return
        tab_to(browser, group[0])
        keys(browser, Keys.SPACE)
        for _ in range(group.index(chosen)):
            keys(browser, Keys.ARROW_DOWN)
    elif key == "means.currency":
        tab_to(browser, browser.driver.find_element(By.ID, "field-means.currency"))
        keys(browser, "EUR")
    elif key in TYPED:
        tab_to(browser, browser.driver.find_element(By.ID, f"field-{key}"))
        keys(browser, TYPED[key])


def type_anew(field: WebElement, text: str) -> None:
    """Type over what stands in a field."""
    field.send_keys(Keys.CONTROL + "a")
    field.send_keys(text)


def touch(browser: Browser, element: WebElement) -> None:
    browser.run("arguments[0].scrollIntoView({block: 'center'})", element)
    builder = ActionBuilder(browser.driver, mouse=PointerInput("touch", "finger"), duration=20)
    builder.pointer_action.move_to(element).pointer_down().pointer_up()
    builder.perform()


@pytest.mark.thorough
def test_by_touch_answers_are_kept_asked_back_and_erased(browser: Browser) -> None:
    opened(browser)
    title = "return document.querySelector('h1').textContent"
    touch(browser, browser.one(".actions .strong"))
    browser.one("input[type=text]").send_keys("5")
    touch(browser, browser.one("button[type=submit]"))
    touch(browser, browser.all(".list label")[0])
    touch(browser, browser.one("button[type=submit]"))
    browser.one("input[type=text]").send_keys("163")
    assert browser.one(".taken").text == "= Taken as 1630 mm (64.2 in)."
    # What was typed and not yet taken stays over a reload, as do place and answers.
    browser.driver.refresh()
    assert browser.run(title) == "How tall are you without shoes?"
    assert browser.one("input[type=text]").get_attribute("value") == "163"
    touch(browser, browser.one("button[type=submit]"))
    browser.one("input[type=text]").send_keys("4,65 m")
    touch(browser, browser.one("button[type=submit]"))
    assert "4650 mm cannot be. Usual is 300 to 900 mm." in browser.one(".problem").text
    touch(browser, browser.one(".problem .strong"))
    assert browser.run(title) == "How high is the top of your table above the floor?"
    touch(browser, browser.all(".where .link")[0])
    assert browser.one("input[type=text]").get_attribute("value") == "46.5"
    touch(browser, browser.one(".joined label[for^=unit-in]"))
    assert browser.one(".taken").text == "= Taken as 465 mm (18.3 in)."
    touch(browser, browser.one("button[type=submit]"))
    touch(browser, browser.all(".where .link")[1])
    assert browser.run(title) == "Paused"
    old = "const one = JSON.parse(localStorage.getItem('deskmend-answers/1'));"
    days = "one.saved -= arguments[0] * 24 * 3600 * 1000;"
    save = (
        "localStorage.setItem('deskmend-answers/1', JSON.stringify(one)); return one.answers['seat.height'];"
    )
    assert browser.run(old + days + save, 6) == "465"
    browser.driver.refresh()
    assert browser.run(title) == "Paused"
    browser.run(old + days + save, 8)
    browser.driver.refresh()
    assert browser.run(title) == "Your workplace in eight questions"
    assert browser.run("return localStorage.length") == 0
    touch(browser, browser.one(".actions .strong"))
    browser.one("input[type=text]").send_keys("5")
    touch(browser, browser.all(".where .link")[1])
    touch(browser, browser.all(".actions button")[1])
    assert browser.run(title) == "Erased"
    assert browser.run("return localStorage.length") == 0
    assert browser.console() == []


GO = """
const [at, answers] = arguments;
localStorage.setItem('deskmend-answers/1', JSON.stringify({
  format: 'deskmend-answers/1', saved: Date.now(), at, answers, typed: {}, unit: 'cm'}));
"""
ANSWERS = {
    "task.hours": "5",
    "task.main": "laptop",
    "person.stature": "1630",
    "seat.height": "465",
    "desk.height": "755",
    "laptop.screen_top": "232",
    "means.currency": "EUR",
    "owns.books": "yes",
    "person.warning_signs": "none",
    "task.reference": "monitor",
    "place.feet_on": "foot_bar",
}
LOOKED_AT = (
    "opening", "pause", "enough", "end", "task.hours", "person.stature", "owns.books", "person.warning_signs",
    "task.reference", "place.feet_on", "person.discomfort", "means.currency", "means.budget",
)  # fmt: skip


def go(browser: Browser, at: str, answers: Mapping[str, str] = ANSWERS) -> None:
    browser.run(GO, at, dict(answers))
    browser.driver.refresh()


WHERE_TOLD = """
const edges = one => document.querySelector(one).getBoundingClientRect();
return [edges('.problem:not(:empty)').top, edges('.problem:not(:empty)').bottom, edges('.form .bottom').top];
"""


def test_what_is_wrong_is_seen_above_the_bar_with_the_buttons(browser: Browser) -> None:
    opened(browser)
    touch(browser, browser.one(".actions .strong"))
    wrong = []
    for number in range(12):
        if "Question 8" in browser.one(".where").text:
            break
        if number == 2:
            browser.one("input[type=text]").send_keys("46" + Keys.ENTER)
            wrong.append(browser.run(WHERE_TOLD))
            browser.one("input[type=text]").clear()
        if browser.all("input[type=text]"):
            browser.one("input[type=text]").send_keys(("5", "163", "46", "74", "24")[max(number - 1, 0)])
        elif browser.all(".list label"):
            touch(browser, browser.all(".list label")[0])
        touch(browser, browser.one("button[type=submit]"))
    # nothing is chosen of a list that is longer than the window
    touch(browser, browser.one("button[type=submit]"))
    wrong.append(browser.run(WHERE_TOLD))
    assert len(wrong) == 2
    assert [0 <= top < bottom <= bar for top, bottom, bar in wrong] == [True, True], wrong


@pytest.mark.thorough
def test_every_kind_of_screen_can_be_read_aloud_and_fits_a_narrow_window(browser: Browser) -> None:
    # 320 px wide: WCAG 1.4.10, and the same as 640 px at 200 %.
    opened(browser, (320, 640))
    axe = Axe(browser.driver)
    for at in LOOKED_AT:
        go(browser, at)
        if at == "person.stature":
            type_anew(browser.one("input[type=text]"), "16,3 m")
            browser.one("button[type=submit]").click()
            assert browser.all(".problem .strong")
        if at == "owns.books":
            # Four books are not one of 4 cm.
            type_anew(browser.one("input[type=text]"), "4")
            assert browser.one(".taken").text == ""
            browser.one("button[type=submit]").click()
            assert "4 could be how many there are." in browser.one(".problem:not(:empty)").text
        browser.run("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        axe.inject()
        found = axe.run(options={"resultTypes": ["violations"]})["violations"]
        assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == [], at
        assert browser.run(WIDE) <= 320, at
    assert browser.console() == []


def test_what_a_warning_sign_means_is_said_at_once_and_again(browser: Browser) -> None:
    sign = next(one for one in CATALOG.signs if one.urgency == "emergency")
    opened(browser)
    go(browser, "person.warning_signs")
    assert browser.all(".signs") == []
    browser.run("document.getElementById(arguments[0]).click()", f"several-person.warning_signs-{sign.id}")
    assert browser.one(".signs[role=alert]").text.startswith("First of all\nGet emergency care now")
    for at in ("enough", "end"):
        go(browser, at, {**ANSWERS, "person.warning_signs": sign.id})
        assert "Get emergency care now" in browser.one(".signs").text
        assert browser.one("h1").text.startswith("EMERGENCY")
        assert browser.all(".actions") == [], "the warning stands alone"
        browser.one(".waits > summary").click()
        assert browser.all(".waits .actions") != []
    go(browser, "person.warning_signs", {**ANSWERS, "person.warning_signs": sign.id})
    browser.run("document.getElementById('several-person.warning_signs-none').click()")
    assert browser.all(".signs") == []


SPOILT = """
const kept = JSON.parse(localStorage.getItem('deskmend-answers/1'));
kept.answers['seat.height'] = kept.answers[arguments[0]] = arguments[0];
kept.at = 'end';
localStorage.setItem('deskmend-answers/1', JSON.stringify(kept));
"""


@pytest.mark.thorough
def test_script_in_every_text_field_is_text(browser: Browser) -> None:
    opened(browser)
    attack = "\"'><img src=x onerror=window.hacked=1><script>window.hacked=1</script>"
    for at in ("task.hours", "person.stature", "owns.books", "place.feet_on", "means.budget"):
        go(browser, at)
        for field in browser.all("input[type=text]"):
            type_anew(field, attack)
        browser.one("button[type=submit]").click()
        assert "cannot be taken" in browser.one(".problem:not(:empty)").text
    browser.run(SPOILT, attack)
    browser.driver.refresh()
    assert browser.run("return window.hacked === undefined && !document.querySelector('img')")
    assert browser.run("return document.querySelector('h1').textContent") == "Still needed"
    assert browser.console() == []


TEXTS = """
return [...document.querySelectorAll('svg')].map(svg => {
  const frame = svg.getBoundingClientRect();
  return [svg.getAttribute('aria-label'), frame.left, frame.right, frame.top, frame.bottom,
    [...svg.querySelectorAll('text')].map(one => {
      const box = one.getBoundingClientRect();
      return [one.textContent, box.left, box.right, box.top, box.bottom];
    })];
});
"""


@pytest.mark.parametrize("language", LANGUAGES)
def test_words_of_the_drawings_stand_apart_and_inside(browser: Browser, language: str) -> None:
    with reading(language):
        drawn = "".join(f'<div class="measure">{drawing_of(name)}</div>' for name in DRAWINGS)
    style = form_in(language).partition("<style>")[2].partition("</style>")[0]
    head = f'<!DOCTYPE html><meta name="viewport" content="width=device-width"><style>{style}</style>'
    browser.show(f"{head}<main class=form>{drawn}</main>", PHONE)
    for name, (label, left, right, top, bottom, texts) in zip(DRAWINGS, browser.run(TEXTS), strict=True):
        assert label
        for text, *box in texts:
            inside = left <= box[0] and box[1] <= right and top <= box[2] and box[3] <= bottom
            assert inside, (name, text)
        assert [
            (name, one[0], other[0]) for one, other in itertools.combinations(texts, 2) if overlap(one, other)
        ] == []


def overlap(one: list[Any], other: list[Any]) -> bool:
    return bool(
        min(one[2], other[2]) - max(one[1], other[1]) > 1
        and min(one[4], other[4]) - max(one[3], other[3]) > 4
    )
