"""Several screens: each has its place, and what is told and not used is said."""

from __future__ import annotations

import re
from math import atan2, degrees
from typing import Any

import pytest
from tests.planning.cases import CATALOG, ROOT, SAMPLE, made

from deskmend.planning.assessment import assess
from deskmend.planning.inputs import NEVER_READ, unused_warnings
from deskmend.planning.plan import plan
from deskmend.workstation.distances import SECOND_ASIDE
from deskmend.workstation.state import evaluate, state_of

MONITOR: dict[str, Any] = {
    "devices__monitor": {"top": "450", "height": "300"},
    "devices__keyboard": "separate",
    "devices__mouse": "separate",
    "tasks__0__main": "monitor",
}
FAR = {"kind": "monitor", "top": "250", "height": "200", "angle": "50", "distance": "900", "share": "0.4"}


def test_two_screens_by_hand() -> None:
    # Desk 650, seat 415, sitting eye 755, a shaped back takes 20: eye at 1150. Second screen: 250 less half
    # of 200 is 150 above the desk, 800 above the floor, so 350 under the eye at 900: 21 degrees, 966 away.
    ask = evaluate(state_of(made(**MONITOR, screens=[FAR])), "work")
    roles = {"mode": "sit", "target": "second"}
    assert float(ask("eye_over_centre", **roles)) == 350
    assert float(ask("gaze_centre", **roles)) == pytest.approx(degrees(atan2(350, 900)), abs=1e-5)
    assert float(ask("viewing_distance", **roles)) == 966
    # 50 degrees aside: 1 at 35 and half as steep beyond, 1 + 0.5 * 15 / 20.
    assert float(ask("neck_rotation_severity", **roles)) == 1.375
    # 0.4 of the time at screens; the first keeps the rest.
    assert float(ask("look_share", target="second")) == 0.4
    assert float(ask("look_share", target="screen")) == 0.6


def test_the_laptop_beside_a_monitor_stands_where_it_is_told() -> None:
    case = {**MONITOR, "tasks__0__reference": "laptop", "tasks__0__reference_share": "0.3"}
    usual = evaluate(state_of(made(**case)), "work")
    assert float(usual("neck_rotation", target="second")) == 33.5
    assert float(usual("neck_rotation", target="screen")) == 0.0
    told = {"screen_top": "230", "screen_height": "190", "keys": "20", "angle": "60", "distance": "800"}
    moved = evaluate(state_of(made(**{**case, "devices__laptop": told})), "work")
    assert float(moved("neck_rotation", target="second")) == 60.0
    assert float(moved("target_distance", mode="sit", target="second")) == 800.0
    # Where the laptop is what stands in the middle, it is the monitor that is looked at aside.
    middle = evaluate(state_of(made(**case, tasks__0__middle="laptop")), "work")
    assert float(middle("neck_rotation", target="second")) == 0.0
    assert float(middle("neck_rotation", target="screen")) == 33.5


def test_a_plan_moves_and_raises_the_second_screen() -> None:
    case = made(**MONITOR, screens=[FAR], owns={"hardback_book": ["30", "40", "50"]})
    found = plan(case, CATALOG, SAMPLE, budget=0)
    ids = {step.option.fix.id for step in found.steps}
    assert "second_beside" in ids or "screens_centred" in ids
    was, now = (evaluate(one, "work") for one in (found.state_before, found.state_after))
    assert float(now("neck_rotation", target="second")) <= 33.5 < float(was("neck_rotation", target="second"))
    assert float(now("target_distance", mode="sit", target="second")) <= 750


def test_a_second_screen_hardly_looked_at_is_switched_off() -> None:
    found = plan(made(**MONITOR, screens=[{**FAR, "share": "0.1"}]), CATALOG, SAMPLE, budget=0)
    assert "one_screen" in {step.option.fix.id for step in found.steps}
    assert float(evaluate(found.state_after, "work")("look_share", target="second")) == 0.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({**MONITOR, "tasks__0__writing": "yes"}, "work: writing told, but no paper"),
        ({**MONITOR, "tasks__0__paper": {"at": "left"}}, "work: paper told, but no paper"),
        ({**MONITOR, "screens": [FAR, {**FAR, "share": "0.1"}]}, "further ones are not: 1"),
        ({"tasks__0__main": "paper", "screens": [FAR]}, "no task is done on a screen"),
        ({"tasks__0__text_size": "2.5"}, "nothing here uses it: tasks.work.text_size"),
        ({"person__mass": "70"}, "nothing here uses it: person.mass"),
    ],
)
def test_what_is_told_and_not_used_is_said(changes: dict[str, Any], words: str) -> None:
    case = made(**changes)
    assert any(words in warning for warning in assess(case, CATALOG, SAMPLE).warnings)
    assert any(words in warning for warning in plan(case, CATALOG, SAMPLE, budget=0).warnings)


def test_a_plain_case_has_nothing_unused() -> None:
    assert unused_warnings(made()) == []
    assert unused_warnings(made(**MONITOR, screens=[FAR])) == []


def test_a_key_counts_as_unused_just_where_nothing_reads_it() -> None:
    """What is said to be read by nothing is: outside the records no code asks for it."""
    folder = ROOT / "src" / "deskmend"
    parts = ("workstation", "risk", "planning", "grants")
    readers = [path for part in parts for path in folder.glob(f"{part}/**/*.py")]
    text = "\n".join(path.read_text(encoding="utf-8") for path in readers)
    for key in NEVER_READ:
        record, name = key.split(".")[-2:]
        owner = "size" if record == "keyboard_size" else "task" if record == "*" else record
        assert not re.search(rf"\b{owner}\.{name}\b", text.replace(f'"{key}"', "")), key


@pytest.mark.parametrize(
    ("middles", "aside"),
    [
        (("laptop", "laptop"), SECOND_ASIDE),
        # one task is enough: the monitor does not move from task to task
        (("laptop", "monitor"), SECOND_ASIDE),
        (("monitor", "laptop"), SECOND_ASIDE),
        (("monitor", "monitor"), 0.0),
    ],
)
def test_a_monitor_stands_beside_a_laptop_that_is_in_the_middle_for_any_task(
    middles: tuple[str, str], aside: float
) -> None:
    task = {"place": "den", "hours": "3", "spell": "50", "main": "monitor", "reference": "laptop"}
    tasks = [{"id": f"work_{k}", "middle": middle, **task} for k, middle in enumerate(middles)]
    state = state_of(made(**{**MONITOR, "tasks__0__main": "laptop"}, tasks=tasks))
    assert float(state.values[("device", ""), "monitor.angle"]) == aside
