"""The local page in a browser: by keys alone, on small and zoomed windows, accessible, asking nobody else."""

from __future__ import annotations

import re
import signal
import socket
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from axe_selenium_python import Axe
from selenium.webdriver import ActionChains, Keys
from selenium.webdriver.common.by import By
from tests.casebook.books import felt, visit
from tests.local_page.served import AtOnce, case_text
from tests.picture.drawn_scenes import drawn
from tests.picture.written import SMALL, write_picture
from tests.stages import NOW

from deskmend.casebook.store import open_casebook
from deskmend.intake.case_file import load_case
from deskmend.local_page.engine import Manner
from deskmend.local_page.folder import CaseFolder
from deskmend.local_page.handling import Keys as Secrets
from deskmend.local_page.handling import LocalPage
from deskmend.local_page.routes import WayIn, local_page

from .browser import DESK, PHONE, Browser

FEW = {
    "places__0__seat__height": {"value": "445", "sd": "30", "from": "estimated"},
    "places__0__desk__height": "720",
    "places__0__desk__underside": "690",
}
SCREENS = (
    "",
    "plan/mine.yaml",
    "strain/mine.yaml",
    "answers/mine.yaml",
    "picture/mine.yaml",
    "hand/mine.yaml",
    "new",
    "casebook/cases.casebook",
    "casebook/cases.casebook/anna",
)
SETTLED = """
const busy = document.getElementById('busy');
const wanted = ['shown', 'plan', 'answers'].map(id => document.getElementById(id)).filter(Boolean);
return busy.hidden && wanted.every(one => !one.hidden && one.childNodes.length > 0);
"""


ANSWERED = """
const { dataset, form, ariaPressed } = document.activeElement;
return [form?.dataset.key, dataset.answer, ariaPressed];
"""


class Opened:
    """A page that is served on this machine, and the browser in it."""

    def __init__(self, browser: Browser, folder: Path, address: str, way_in: WayIn) -> None:
        self.browser, self.folder, self.address, self.way_in = browser, folder, address, way_in
        self.driver = browser.driver

    def size(self, width: int, height: int) -> None:
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600},
        )

    def go(self, screen: str) -> None:
        self.driver.get(self.address + screen)
        self.until(lambda: bool(self.browser.run(SETTLED)))

    def until(self, done: Callable[[], bool]) -> None:
        end = time.monotonic() + 300
        while not done():
            assert time.monotonic() < end, self.text("main")
            time.sleep(0.03)

    def text(self, selector: str) -> str:
        return str(self.driver.find_element(By.CSS_SELECTOR, selector).text)

    def shown(self, selector: str) -> str:
        """The text of what may be made anew at any moment; empty where it is not there."""
        asked = "const found = document.querySelector(arguments[0]); return found ? found.innerText : ''"
        return str(self.browser.run(asked, selector))

    def press(self, *keys: str) -> None:
        ActionChains(self.driver).send_keys(*keys).perform()

    def foreign(self) -> set[str]:
        own = (self.address, "data:", "file:", "about:", "chrome:", "blob:")
        return {one for one in self.browser.requests() if not one.startswith(own)}


@pytest.fixture(scope="module")
def page(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    folder = tmp_path_factory.mktemp("cases")
    (folder / "mine.yaml").write_text(case_text(**FEW), encoding="utf-8")
    with open_casebook(folder / "cases.casebook", create=True) as book:
        for key in ("anna", "p1", "p2", "p3", "p4"):
            book.add_visit(key, visit("den.crate_feet=80", "break_timer"), felt(("neck", 6, 2)))
    listening = socket.create_server(("127.0.0.1", 0))
    secrets = Secrets(listening.getsockname()[1])
    way_in = WayIn(secrets, "127.0.0.1")
    engine: Any = AtOnce()
    shared = LocalPage(CaseFolder(folder), engine, secrets, Manner("en", "mm"), opened=way_in.write)
    config = uvicorn.Config(local_page(shared, "127.0.0.1"), log_level="warning", lifespan="off", ws="none")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    opened = Opened(browser, folder, f"http://127.0.0.1:{secrets.port}/", way_in)
    opened.size(*DESK)
    browser.driver.get("about:blank")
    browser.driver.get_log("browser")
    browser.driver.get_log("performance")
    browser.driver.get(way_in.file.as_uri())
    opened.until(lambda: browser.driver.current_url == opened.address)
    yield opened
    server.should_exit = True
    thread.join(10)
    way_in.close()


def test_the_way_in_leaves_no_trace(page: Opened) -> None:
    assert stat.S_IMODE(page.way_in.file.stat().st_mode) == 0o600
    assert page.browser.run("return document.cookie") == ""
    assert page.browser.run("return document.referrer") == ""
    assert "token" not in page.driver.current_url
    page.driver.back()
    assert "token" not in page.driver.current_url
    page.go("")
    assert page.text("h1") == "Cases in this folder"


def test_a_plan_by_keys_alone(page: Opened) -> None:
    page.go("plan/mine.yaml")
    slider = page.driver.find_element(By.ID, "money")
    slider.send_keys(Keys.HOME)
    page.until(lambda: "0.00 EUR" in page.text("#amount") and "0.00" in said(page))
    first = slider.get_attribute("aria-valuetext")
    slider.send_keys(Keys.ARROW_RIGHT)
    page.until(lambda: page.text("#amount") in said(page) and "0.00 EUR" != page.text("#amount"))
    assert slider.get_attribute("aria-valuetext") != first
    page.driver.find_element(By.ID, "beside").send_keys(Keys.ENTER)
    never = page.driver.find_element(By.CSS_SELECTOR, '[data-wish="never"]')
    name = never.get_attribute("data-name")
    never.send_keys(Keys.ENTER)
    page.until(lambda: page.driver.find_element(By.ID, "keep").is_displayed())
    focused = page.driver.switch_to.active_element
    assert (focused.get_attribute("data-name"), focused.get_attribute("data-wish")) == (name, "never")
    assert focused.get_attribute("aria-pressed") == "true"
    page.driver.find_element(By.ID, "show-both").send_keys(Keys.ENTER)
    page.until(lambda: page.driver.find_element(By.ID, "both").is_displayed())
    assert len(page.browser.all("#both .side")) == 2
    page.driver.find_element(By.ID, "keep").send_keys(Keys.ENTER)
    page.until(lambda: not page.driver.find_element(By.ID, "keep").is_displayed())
    assert load_case(page.folder / "mine.yaml").wishes.never == (name,)
    assert page.browser.console() == []


@pytest.mark.thorough
def test_under_an_emergency_the_warning_stands_alone_until_the_rest_is_opened(page: Opened) -> None:
    urgent = page.folder / "urgent.yaml"
    urgent.write_text(case_text(**FEW, person__warning_signs=["chest_arm_jaw_pain"]), encoding="utf-8")
    try:
        for screen, rest in (("plan", ("#plan", "#money-bar")), ("strain", (".main-figure",))):
            page.go(f"{screen}/urgent.yaml")
            assert page.text(".signs").startswith("EMERGENCY")
            assert [one for one in rest if page.browser.all(one)] == []
            page.driver.find_element(By.CSS_SELECTOR, ".waits > summary").send_keys(Keys.ENTER)
            page.until(lambda rest=rest: all(page.browser.all(one) for one in rest))
        page.driver.find_element(By.CSS_SELECTOR, ".waits > summary").send_keys(Keys.ENTER)
        page.until(lambda: not page.browser.all(".main-figure"))
        # another plan leaves open what was opened
        page.go("plan/urgent.yaml")
        page.driver.find_element(By.CSS_SELECTOR, ".waits > summary").send_keys(Keys.ENTER)
        page.until(lambda: bool(page.browser.all("#money")))
        page.driver.find_element(By.ID, "money").send_keys(Keys.HOME)
        page.until(lambda: "0.00 EUR" in page.text("#amount") and "0.00" in said(page))
        assert page.browser.all("#plan") != []
        assert page.browser.console() == []
    finally:
        urgent.unlink()


def said(page: Opened) -> str:
    return str(page.driver.find_element(By.ID, "said").get_attribute("textContent"))


@pytest.mark.thorough
def test_an_answer_changes_the_plan(page: Opened) -> None:
    page.go("answers/mine.yaml")
    field = page.driver.find_element(By.CSS_SELECTOR, 'form[data-key="desk.height"] input')
    field.send_keys("7,4 m", Keys.ENTER)
    page.until(lambda: bool(page.browser.all(".error")))
    assert "740 mm" in page.text('form[data-key="desk.height"] .error')
    page.press(Keys.ENTER)
    page.until(lambda: page.driver.find_element(By.ID, "told").is_displayed())
    assert page.text("#told").startswith("Plan for ")
    assert load_case(page.folder / "mine.yaml").places[0].desk.height == 740


TOLD_SEEN = """
const { top, bottom } = document.getElementById('told').getBoundingClientRect();
return 0 <= top && top < bottom && bottom <= innerHeight;
"""


def test_a_typed_answer_can_be_taken_out_and_the_plan_is_told_where_one_is(page: Opened) -> None:
    form = 'form[data-key="seat.depth"]'

    def depth() -> object:
        seat = load_case(page.folder / "mine.yaml").places[0].seat
        return None if seat is None or seat.depth is None else float(seat.depth)

    before = depth()
    page.size(*PHONE)
    page.go("answers/mine.yaml")
    page.driver.find_element(By.CSS_SELECTOR, f"{form} input").send_keys("41", Keys.ENTER)
    page.until(lambda: depth() == 410 and page.shown("#told").startswith("Plan for "))
    assert page.browser.run(TOLD_SEEN)
    page.driver.find_element(By.CSS_SELECTOR, f"{form} input").send_keys(Keys.ENTER)
    page.until(lambda: "Nothing is typed." in page.shown(f"{form} .error"))
    assert depth() == 410
    page.driver.find_element(By.CSS_SELECTOR, f"{form} .error button").click()
    page.until(lambda: "Not known" in page.shown(f"{form} .note[id^=t-]"))
    assert depth() is None
    if before is not None:
        page.driver.find_element(By.CSS_SELECTOR, f"{form} input").send_keys(f"{before} mm", Keys.ENTER)
        page.until(lambda: depth() == before)
    page.size(*DESK)


def test_how_long_answers_of_a_new_case_are_kept_is_told_as_it_is(page: Opened) -> None:
    page.go("new")
    assert "stay in this window until" in page.text("#form")
    assert "telephone" not in page.text("#form")
    page.driver.find_element(By.CSS_SELECTOR, "#form .actions .strong").click()
    page.driver.find_element(By.CSS_SELECTOR, "#form input").send_keys("5", Keys.ENTER)
    page.driver.find_elements(By.CSS_SELECTOR, "#form .where .link")[1].click()
    assert "are kept in this window" in page.text("#form")
    assert "file" not in page.text("#form")
    page.go("new")
    assert page.text("#form h1") == "Paused"
    mine = page.driver.current_window_handle
    page.driver.switch_to.new_window("tab")
    page.go("new")
    assert page.text("#form h1") == "Your workplace in eight questions"
    page.driver.close()
    page.driver.switch_to.window(mine)
    page.browser.run("sessionStorage.clear()")


AT_WORK = """
const real = window.fetch;
const working = JSON.stringify({ state: 'working', seconds: 2, done: 0, whole: 0 });
window.held = true;
window.fetch = (...asked) => window.held && String(asked[0]).includes('/asked/')
  ? new Promise(done => setTimeout(() => done(new Response(working)), 50)) : real(...asked);
"""
SAID = "return ['busy', 'busy-stays'].map(id => document.getElementById(id).getClientRects().length > 0)"


def test_what_is_shown_is_said_to_stay_only_where_something_is_shown(page: Opened) -> None:
    held = page.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": AT_WORK})
    try:
        page.driver.get(f"{page.address}plan/mine.yaml")
        page.until(lambda: bool(page.browser.run(SAID)[0]))
        assert page.browser.run(SAID) == [True, False]
        page.browser.run("window.held = false")
        page.until(lambda: bool(page.browser.run(SETTLED)))
        page.browser.run("window.held = true; document.querySelector('#less:enabled, #more:enabled').click()")
        page.until(lambda: bool(page.browser.run(SAID)[0]))
        assert page.browser.run(SAID) == [True, True]
        page.browser.run("window.held = false")
        page.until(lambda: bool(page.browser.run(SETTLED)))
    finally:
        page.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", held)


EMPTY_BOXES = """
const boxes = [...document.querySelectorAll('.form .problem, .form .signs')];
return boxes.map(one => one.getBoundingClientRect().height);
"""


def test_a_question_shows_no_box_where_nothing_is_to_be_said(page: Opened) -> None:
    page.size(*PHONE)
    page.go("new")
    page.driver.find_element(By.CSS_SELECTOR, "#form .actions .strong").click()
    assert page.browser.run(EMPTY_BOXES) == [0]
    page.size(*DESK)


def test_a_casebook_by_keys_alone(page: Opened) -> None:
    page.go("casebook/cases.casebook/anna")
    page.driver.find_element(By.CSS_SELECTOR, '#done [value="break_timer"]').send_keys(Keys.SPACE)
    page.driver.find_element(By.ID, "why").send_keys("a kitchen clock", Keys.ENTER)
    page.until(lambda: page.shown("#wrote") == "What was done is written down.")
    page.driver.find_element(By.ID, "felt-neck").send_keys("7")
    page.driver.find_element(By.ID, "f-note").send_keys(Keys.ENTER)
    page.until(lambda: page.shown("#wrote") == "How it felt is written down.")
    with open_casebook(page.folder / "cases.casebook") as book:
        anna = book.person("anna")
    assert [(one.name, one.why) for one in anna.done] == [("break_timer", "a kitchen clock")]
    assert ("neck", 7) in [(one.region, one.rating) for one in anna.felt]
    page.go("casebook/cases.casebook/p4")
    page.driver.find_element(By.CSS_SELECTOR, "#erasing summary").send_keys(Keys.ENTER)
    again = page.driver.find_element(By.ID, "again")
    again.send_keys("p5", Keys.ENTER)
    page.until(lambda: "p4, typed once more" in page.shown("#erase .error"))
    again.clear()
    again.send_keys("p4", Keys.ENTER)
    page.until(lambda: "is erased from" in page.shown("#person"))
    with open_casebook(page.folder / "cases.casebook") as book:
        assert "p4" not in book.keys()
    assert page.browser.console() == []


@pytest.mark.thorough
def test_a_recheck_by_keys_alone(page: Opened) -> None:
    page.go("casebook/cases.casebook/p1")
    page.driver.find_element(By.ID, "r-note").send_keys(Keys.ENTER)
    page.until(lambda: page.driver.find_element(By.ID, "found").is_displayed())
    assert "Nothing of the plan stands in the casebook as done." in page.shown("#found")
    page.driver.find_element(By.ID, "next").send_keys(Keys.ENTER)
    page.until(lambda: page.shown("#wrote").startswith("p1_next.yaml is in the folder."))
    leads = page.driver.switch_to.active_element.get_attribute("href")
    assert str(leads).endswith("/plan/p1_next.yaml")
    page.driver.find_element(By.ID, "keep").send_keys(Keys.ENTER)
    page.until(lambda: page.shown("#wrote") == "The visit is written down.")
    with open_casebook(page.folder / "cases.casebook") as book:
        assert len(book.person("p1").visits) == 2


def answer_by_key(page: Opened, key: str, wanted: str) -> None:
    tile = f'[data-key="{key}"] [data-answer="{wanted}"]'
    page.driver.find_element(By.CSS_SELECTOR, tile).send_keys(Keys.ENTER)
    page.until(lambda: page.browser.run(ANSWERED) == [key, wanted, "true"])
    page.until(lambda: page.shown("#told").startswith("Plan for "))


def test_things_and_troubles_are_answered_by_keys(page: Opened) -> None:
    page.go("answers/mine.yaml")
    answer_by_key(page, "owns.towel", "yes")
    answer_by_key(page, "owns.carton", "no")
    form = '[data-key="person.discomfort"]'
    page.driver.find_element(By.CSS_SELECTOR, f"{form} summary").send_keys(Keys.ENTER)
    page.driver.find_element(By.CSS_SELECTOR, f'{form} [name="neck"]').send_keys("4")
    page.driver.find_element(By.CSS_SELECTOR, f"{form} button").send_keys(Keys.ENTER)
    page.until(lambda: "neck 4" in page.shown(form))
    case = load_case(page.folder / "mine.yaml")
    assert (case.owns["bath_towel"].count, case.owns["carton_box"].count) == (1, 0)
    assert case.person.discomfort.neck == 4
    assert page.browser.console() == []


@pytest.mark.thorough
def test_a_picture_is_marked_by_keys_and_taken(page: Opened, tmp_path: Path) -> None:
    scene = drawn(3, SMALL)
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    page.go("picture/mine.yaml")
    page.driver.find_element(By.ID, "file").send_keys(str(picture))
    page.until(lambda: page.driver.find_element(By.ID, "marking").is_displayed())
    ground = page.driver.find_element(By.ID, "ground")
    scale = SMALL.size[0] / page.driver.find_element(By.ID, "photo").size["width"]
    x, y = SMALL.size[0] / 2, SMALL.size[1] / 2
    order = ["tragus", "seat_front", "seat_back", "floor_a"]
    names = [
        one["name"]
        for one in page.browser.run("return JSON.parse(document.getElementById('given').textContent).points")
    ]
    wanted = [*scene.corners, *(scene.points[name] if name in order else None for name in names)]
    for place in wanted:
        if place is None:
            page.driver.find_element(By.ID, "not-seen").send_keys(Keys.ENTER)
            continue
        keys = [way for way in moves(place[0] - x, scale, Keys.ARROW_RIGHT, Keys.ARROW_LEFT)]
        keys += moves(place[1] - y, scale, Keys.ARROW_DOWN, Keys.ARROW_UP)
        x += steps(place[0] - x, scale) * scale
        y += steps(place[1] - y, scale) * scale
        ground.send_keys(*keys, Keys.ENTER)
    # Where setting a mark takes long, the first measures are those of fewer marks.
    page.until(lambda: "front edge of the seat" in page.shown("#measured"))
    page.driver.find_element(By.ID, "confirmed").send_keys(Keys.SPACE)
    page.driver.find_element(By.ID, "take").send_keys(Keys.ENTER)
    page.until(lambda: page.driver.find_element(By.ID, "taken").is_displayed())
    assert "from: pictured" in (page.folder / "mine.yaml").read_text(encoding="utf-8")
    assert page.browser.console() == []


def steps(away: float, scale: float) -> int:
    return round(away / scale)


def moves(away: float, scale: float, ahead: str, back: str) -> list[str]:
    """Arrow keys that move the cross so far; ten steps at once with Shift."""
    count = abs(steps(away, scale))
    key = ahead if away > 0 else back
    tens = [Keys.SHIFT, *[key] * (count // 10), Keys.NULL] if count >= 10 else []
    return [*tens, *[key] * (count % 10)]


@pytest.mark.both
def test_every_screen_is_accessible_and_fits(page: Opened) -> None:
    for screen in SCREENS if NOW.thorough else SCREENS[1::3]:
        page.size(*DESK)
        page.go(screen)
        axe = Axe(page.driver)
        axe.inject()
        found = axe.run()["violations"]
        assert found == [], (screen, axe.report(found))
        # 1280 px at 200 %, a telephone, and the narrowest window that all must fit
        for width, height in ((640, 450), PHONE, (320, 640)):
            page.size(width, height)
            wide = page.browser.run("return document.documentElement.scrollWidth")
            assert wide <= width, (screen, width)
    assert page.browser.console() == []
    assert page.foreign() == set()


def test_the_command_serves_until_it_is_stopped(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "deskmend", "open", str(tmp_path), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        told = [running.stdout.readline() for _ in range(3)]
        found = re.search(r"this file: (.+)\n", told[1])
        assert found is not None, told
        file = Path(found[1])
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
        running.send_signal(signal.SIGINT)
        _, errors = running.communicate(timeout=60)
    assert running.returncode == 0, errors
    assert not file.exists()
