"""Scores of a day: the published functions on the quantities, with reasons, and nothing clamped."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from click.testing import CliRunner
from tests.planning.cases import made
from tests.stages import some

from deskmend.cli import deskmend
from deskmend.risk import rosa, rula
from deskmend.risk.scores.day import (
    DayScores,
    ItemScore,
    OccasionScore,
    TaskScores,
    method_named,
    methods,
    score_of,
    scores_of,
)
from deskmend.risk.scores.method import NEUTRAL_DEG, hands_raised, plain_apply
from deskmend.risk.scores.methods.rosa_of_task import CHAIR_ITEMS, SECTIONS, _where_used, rosa_of
from deskmend.risk.scores.methods.rula_of_task import Unseen, observed_items
from deskmend.risk.severity import curves
from deskmend.workstation.graph import QUANTITIES
from deskmend.workstation.state import State, evaluate, state_of

from .workplaces import ROOT, SCENARIOS, changed, scenario


def first(state: State) -> TaskScores:
    return scores_of(state).tasks[0]


def items_of(task: TaskScores, hand: str, target: str) -> dict[str, int | None]:
    postures = {(one.roles["hand"], one.roles["target"]): one for one in task.occasions["rula"]}
    return {item.item: item.score for item in postures[hand, target].items}


def seat_of(task: TaskScores) -> OccasionScore:
    (seat,) = task.occasions["rosa"]
    return seat


def rosa_items(state: State) -> dict[str, int | None]:
    return {item.item: item.score for item in seat_of(first(state)).items}


@pytest.mark.parametrize("name", some(SCENARIOS, "counter_calls", "kitchen_books"))
def test_what_the_command_shows_is_what_the_functions_give(name: str) -> None:
    state = scenario(name)
    scores = scores_of(state)
    case = str(ROOT / "scenarios" / name / "case.yaml")
    shown = json.loads(CliRunner().invoke(deskmend, ["assess", case, "--json"]).stdout)["scores"]
    assert [method.name for method in methods()] == ["rula", "rosa"]
    assert (shown["rula"], shown["rosa"]) == (scores.score("rula"), scores.score("rosa"))
    assert list(shown["tasks"]) == list(state.tasks)
    for task in scores.tasks:
        assert shown["tasks"][task.task]["rula"] == task.score("rula")
        assert shown["tasks"][task.task]["rosa"] == task.score("rosa")
        rows = shown["tasks"][task.task]["postures"]
        for posture, row in zip(task.occasions["rula"], rows, strict=True):
            # Straight from the items: not by the path that made the tables.
            known = {item["item"]: item["score"] for item in row["items"]}
            use, force = known.pop("muscle_use"), known.pop("force", 0)
            direct = rula.score(
                **known, arm_muscle_use=use, body_muscle_use=use, arm_force=force, body_force=force
            )
            assert posture.parts == vars(direct)
            assert row["grand"] == direct.grand == posture.score
    assert len(shown["classes"]) == len(scores.classes)


@pytest.mark.parametrize("name", SCENARIOS)
def test_quantities_that_fill_tables_equal_the_scores_shown(name: str) -> None:
    state = scenario(name)
    for task in scores_of(state).tasks:
        evaluation = evaluate(state, task.task)
        for posture in task.occasions["rula"]:
            assert posture.score is not None
            assert int(evaluation("rula_grand_score", **posture.roles)) == posture.score
        seat = seat_of(task)
        parts = {item.item: item.score for item in seat.items}
        assert set(parts) == {name for names in SECTIONS.values() for name in names}
        assert seat.parts == vars(rosa.score(**parts))
        assert int(rosa_of(evaluation, plain_apply).scores["final"]) == task.score("rosa") == seat.score


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_score_asked_for_alone_is_the_one_shown(name: str) -> None:
    state = scenario(name)
    for method in methods():
        assert score_of(state, method.name) == scores_of(state).score(method.name)


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_item_gives_its_score_and_why(name: str) -> None:
    for task in scores_of(scenario(name)).tasks:
        for item in (item for own in task.occasions.values() for one in own for item in one.items):
            assert re.match(rf"[a-z ]+ [+-]?{abs(item.score or 0)}: \S", item.reason), item.reason


def test_the_day_is_its_worst_task_and_the_mean_lies_within() -> None:
    scores = scores_of(scenario("shared_chair_papers"))
    assert len(scores.tasks) > 1
    for method in methods():
        found = [one.score for task in scores.tasks for one in task.occasions[method.name]]
        assert scores.score(method.name) == max(found)
        assert min(found) <= scores.mean(method.name) <= max(found)


def test_a_neck_reason_in_the_words_of_the_method() -> None:
    state = scenario("kitchen_books")
    reasons = [item.reason for posture in first(state).occasions["rula"] for item in posture.items]
    assert any(
        re.fullmatch(r"neck \d: [\d.]+ degrees (forward|back), band [\w ]+(; .*)?", reason)
        for reason in reasons
    )


# --- readings of ours ----------------------------------------------------------------------------


def score(name: str, **values: object) -> int:
    entry = QUANTITIES.quantities[name][0]
    return int(entry.call(*(values[need] for need in entry.needs)))


def neck(flexion: float) -> int:
    return score(
        "rula_neck_score",
        neck_flexion=np.float64(flexion),
        neck_rotation=np.float64(0.0),
        phone="none",
        task_phone_share=np.float64(0.0),
        scores_neck_bent="no",
    )


def wrist(extension: float) -> int:
    return score("rula_wrist_score", wrist_extension=np.float64(extension), scores_wrist_deviated="no")


def test_half_a_degree_counts_as_bent_nowhere() -> None:
    # The tolerance is a judgement; by the letter of the method only 0 is neutral.
    assert NEUTRAL_DEG == 5.0
    assert [neck(x) for x in (-5.1, -5.0, -0.5, 0.0, 0.5, 10.0, 10.5, 20.0)] == [4, 1, 1, 1, 1, 1, 2, 3]
    assert [wrist(x) for x in (-15.0, -5.1, -5.0, -0.5, 0.5, 5.0, 5.1, 14.9, 15.0)] == [
        3, 2, 1, 1, 1, 1, 2, 2, 3
    ]  # fmt: skip


def test_a_back_that_is_well_supported_scores_one_and_a_flat_board_does_not() -> None:
    flat = changed(scenario("kitchen_books"), feet__height=0.0, feet__on="floor")
    shaped = changed(flat, seat__back="shaped", seat__lumbar_depth=30.0)
    assert items_of(first(flat), "keys", "screen")["trunk"] == 2
    assert items_of(first(shaped), "keys", "screen")["trunk"] == 1


def test_who_stands_upright_has_no_back_to_rest_on_however_good_the_chair() -> None:
    shaped = changed(scenario("kitchen_books"), seat__back="shaped", seat__lumbar_depth=30.0)
    standing = first(changed(shaped, stand_share=1.0, monitor__top=1600.0))
    postures = [one for one in standing.occasions["rula"] if one.roles["target"] == "screen"]
    trunks = {item.score for one in postures for item in one.items if item.item == "trunk"}
    assert trunks == {2}


def test_the_included_angle_of_an_elbow_seen_is_read_as_its_bend() -> None:
    # lower arm 1 from 60 to 100 degrees of bend (McAtamney & Corlett 1993), 120 to 80 of included angle
    posture = {"arm_to_trunk": 10.0, "neck_angle": 5.0, "trunk_angle": 0.0}
    found = [
        observed_items(elbow_angle=angle, **posture)["lower_arm"] for angle in (185, 121, 120, 80, 79, 0)
    ]
    assert [int(one) for one in found] == [2, 2, 1, 1, 2, 2]


def test_a_cradled_telephone_bends_the_neck_only_where_there_are_calls() -> None:
    state = scenario("kitchen_books")
    quiet = changed(state, phone="cradled", task__phone_share=0.0)
    calls = changed(state, phone="cradled", task__phone_share=0.3)
    before, after = (items_of(first(s), "keys", "screen")["neck"] for s in (quiet, calls))
    assert before is not None
    assert after == before + 1
    assert rosa_items(quiet)["telephone"] == 0
    # 1 within reach, +2 held by the shoulder, +1 for 1.5 h a day in a spell of 90 minutes.
    assert rosa_items(calls)["telephone"] == 4


def test_muscle_use_follows_the_spell() -> None:
    state = scenario("kitchen_books")
    short = changed(state, task__spell=1.0)
    assert items_of(first(state), "keys", "screen")["muscle_use"] == 1
    assert items_of(first(short), "keys", "screen")["muscle_use"] == 0
    often = changed(short, scores__repeats_per_minute=5.0)
    assert items_of(first(often), "keys", "screen")["muscle_use"] == 1


def test_what_a_case_says_takes_the_place_of_the_defaults() -> None:
    state = scenario("kitchen_books")
    told = changed(
        state,
        scores__wrist_twist=2.0,
        scores__force=1.0,
        scores__wrist_deviated="yes",
        scores__trunk_bent="yes",
        scores__back_adjustable="yes",
        scores__seat_depth_adjustable="yes",
        scores__reach_overhead="yes",
        scores__palm_rest="yes",
    )
    before, after = items_of(first(state), "keys", "screen"), items_of(first(told), "keys", "screen")
    assert after["wrist_twist"] == 2
    assert after["force"] == 1
    for item in ("wrist", "trunk"):
        assert after[item] == (before[item] or 0) + 1
    seats = {item: (rosa_items(state)[item] or 0) - (rosa_items(told)[item] or 0) for item in CHAIR_ITEMS}
    assert seats == {"seat_height": 0, "seat_depth": 1, "armrest": 0, "back_support": 1}
    # Deviated wrists and things overhead count at the keyboard, the palm rest at the mouse.
    assert rosa_items(told)["keyboard"] == (rosa_items(state)["keyboard"] or 0) + 2
    assert rosa_items(told)["mouse"] == (rosa_items(state)["mouse"] or 0) + 1


def test_armrests_count_by_their_height_where_it_is_known() -> None:
    state = scenario("kitchen_books")
    elbow = float(evaluate(state, "ledger")("elbow_height", mode="sit"))
    seat = float(evaluate(state, "ledger")("seat_top"))
    at_elbow = changed(state, seat__armrests="fixed", seat__armrest_height=elbow - seat)
    low = changed(state, seat__armrests="fixed", seat__armrest_height=elbow - seat - 40.0)
    unknown = changed(state, seat__armrests="fixed")
    adjustable = changed(state, seat__armrests="adjustable")
    assert [rosa_items(s)["armrest"] for s in (state, at_elbow, low, unknown, adjustable)] == [2, 2, 3, 2, 1]


def test_typing_on_a_raised_laptop_with_the_mouse_below_is_two_surfaces() -> None:
    state = changed(scenario("kitchen_books"), mouse="separate")
    raised = changed(state, screen__raise=100.0)
    assert rosa_items(raised)["mouse"] == (rosa_items(state)["mouse"] or 0) + 2


def test_a_seat_counts_as_adjustable_only_where_somebody_said_so() -> None:
    state = scenario("kitchen_books")
    words = ("yes", "no", "unknown")
    assert [rosa_items(changed(state, seat__adjustable=word))["seat_height"] for word in words] == [3, 4, 4]
    assert [rosa_items(changed(state, desk__adjustable=word))["keyboard"] for word in words] == [3, 4, 4]


def test_adjustable_armrests_count_as_they_stand_and_as_set_where_nobody_said() -> None:
    state = changed(scenario("kitchen_books"), seat__armrests="adjustable")
    assert rosa_items(state)["armrest"] == 1
    for height in (60.0, 400.0):
        # 2 too low or too high, and never +1 for what cannot be set.
        assert rosa_items(changed(state, seat__armrest_height=height))["armrest"] == 2
    # 1 at the elbow, +1 hard, +1 too far apart, and never +1 for what cannot be set.
    assert rosa_items(changed(state, scores__armrest_hard="yes", scores__armrest_wide="yes"))["armrest"] == 3
    for word in ("none", "unknown"):
        without = changed(state, seat__armrests=word, seat__armrest_height=220.0, scores__armrest_hard="yes")
        assert rosa_items(without)["armrest"] == 2


def test_a_back_is_well_placed_from_95_to_110_degrees() -> None:
    # Source: ROSA, section A, back support: 95 to 110 degrees score 1, else 2 (published, see rosa_items.csv)
    state = scenario("nothing_amiss")
    upright, least = (changed(state, seat__recline=degrees) for degrees in (4.0, 5.0))
    assert rosa_items(upright)["back_support"] == rosa_items(least)["back_support"] + 1
    assert rosa_items(changed(state, seat__recline=20.0))["back_support"] < 4
    assert rosa_items(changed(state, seat__recline=21.0))["back_support"] == 4


def test_what_is_scored_has_no_reason_why_not_and_what_is_done_standing_has_one() -> None:
    seated = scores_of(scenario("nothing_amiss"))
    assert seated.not_scored == ()
    plain = made(places__0__posture="stand", places__0__desk={"height": "1050", "depth": "600"})
    (told,) = scores_of(state_of(plain)).not_scored
    assert told == "work: ROSA is for seated work, and this is done standing"


# --- what holds a score --------------------------------------------------------------------------


def held(name: str, items: dict[str, int], parts: dict[str, int], score: int) -> list[str]:
    told = tuple(ItemScore(item, points, f"{item} {points}") for item, points in items.items())
    return [one.item for one in method_named(name).holding(OccasionScore({}, 1.0, told, score, parts))]


SEAT = {"seat_height": 4, "seat_depth": 2, "armrest": 2, "back_support": 3}
DEVICES = {"monitor": 4, "telephone": 0, "mouse": 5, "keyboard": 3, "chair_duration": 1}


@pytest.mark.parametrize(
    ("chair", "screen", "hands", "items"),
    [
        (6, 3, 5, [*SEAT, "chair_duration"]),
        (4, 5, 3, ["monitor"]),
        (4, 3, 5, ["mouse", "keyboard"]),
        (5, 5, 4, [*SEAT, "monitor", "chair_duration"]),
        (5, 5, 5, [*SEAT, "monitor", "mouse", "keyboard", "chair_duration"]),
    ],
)
def test_rosa_is_held_by_the_items_of_the_sections_that_make_it(
    chair: int, screen: int, hands: int, items: list[str]
) -> None:
    final = max(chair, screen, hands)
    parts = {"chair": chair, "monitor_telephone": screen, "mouse_keyboard": hands, "final": final}
    assert held("rosa", {**SEAT, **DEVICES}, parts, final) == items


def test_what_takes_points_off_or_scores_nothing_holds_no_score() -> None:
    items = {**SEAT, **DEVICES, "telephone": 2, "monitor": 0, "chair_duration": -1}
    parts = {"chair": 4, "monitor_telephone": 4, "mouse_keyboard": 1, "final": 4}
    assert held("rosa", items, parts, 4) == [*SEAT, "telephone"]


def test_rula_is_held_by_the_items_over_their_least() -> None:
    items = {"upper_arm": 2, "wrist": 1, "neck": 4, "legs": 1, "muscle_use": 1, "wrist_twist": 1, "force": 0}
    assert held("rula", items, {"grand": 5}, 5) == ["upper_arm", "neck", "muscle_use"]
    quiet = {"muscle_use": 0, "force": 2, "wrist_twist": 2}
    assert held("rula", quiet, {"grand": 3}, 3) == ["force", "wrist_twist"]


# --- order, ends and what cannot be scored -------------------------------------------------------


def rising(values: list[int | None]) -> bool:
    known = [value for value in values if value is not None]
    return known == sorted(known)


def test_a_higher_desk_never_lowers_arm_or_keyboard_scores() -> None:
    state = scenario("kitchen_books")
    # From where the legs go under: below, a higher desk lets the body nearer, and the arms come down.
    heights = [changed(state, desk__height=750.0 + 10.0 * step) for step in range(20)]
    # The wrist bends down as the desk rises; below the elbow it bends back, so arms alone are looked at.
    arms = [items_of(first(one), "keys", "screen") for one in heights]
    assert rising([one["upper_arm"] for one in arms])
    assert rising([one["back_support"] for one in map(rosa_items, heights)])


def test_longer_days_never_lower_rosa() -> None:
    state = changed(scenario("kitchen_books"), task__spell=45.0, sitting_spell=45.0)
    found = [
        first(changed(state, task__hours=hours)).score("rosa") for hours in (0.5, 1.0, 3.0, 4.0, 4.5, 8.0)
    ]
    assert rising(found)


def test_feet_that_hang_never_score_better() -> None:
    state = changed(scenario("kitchen_books"), feet__height=0.0, feet__on="floor")
    found = [
        rosa_items(changed(state, seat__height=400.0 + 10.0 * step))["seat_height"] for step in range(4, 14)
    ]
    assert rising(found)
    assert items_of(first(changed(state, seat__height=560.0)), "keys", "screen")["legs"] == 2


def test_standing_work_has_rula_and_says_why_it_has_no_rosa() -> None:
    scores = scores_of(changed(scenario("kitchen_books"), stand_share=1.0))
    assert scores.score("rosa") is None
    assert scores.reached("rosa") == 0
    assert scores.score("rula") is not None
    assert scores.not_scored == ("ledger: ROSA is for seated work, and this is done standing",)
    assert all(posture.roles["mode"] == "stand" for posture in scores.tasks[0].occasions["rula"])


def test_standing_by_turns_counts_both_postures() -> None:
    task = first(changed(scenario("kitchen_books"), stand_share=0.5))
    assert {posture.roles["mode"] for posture in task.occasions["rula"]} == {"sit", "stand"}
    assert sum(posture.share for posture in task.occasions["rula"]) == pytest.approx(1.0)
    assert seat_of(task).share == 0.5


def spoiled() -> DayScores:
    # A seat edge two metres from the knee: no band of ROSA reaches there.
    return scores_of(changed(scenario("kitchen_books"), body__buttock_popliteal_length=2500.0))


def test_a_state_beyond_the_method_is_named_and_not_pulled_in() -> None:
    scores = spoiled()
    assert scores.score("rosa") is None
    assert scores.reached("rosa") is None
    named = [text for text in scores.not_scored if "seat depth" in text]
    assert len(named) == 1
    assert "clearance_mm read 2070, allowed -1000 to 1000 mm" in named[0]
    assert scores.score("rula") is not None
    seat = seat_of(scores.tasks[0])
    assert seat.score is None
    assert seat.parts == {}
    assert [item.item for item in seat.items if item.score is None] == ["seat_depth"]
    assert scores.tasks[0].shown("rosa") == seat.items


def test_classes_too_name_what_lies_beyond_them() -> None:
    beyond = [one for one in spoiled().classes if one.posture_class is None]
    assert [one.quantity for one in beyond] == ["seat_clearance"]
    assert "allowed" in beyond[0].reason
    assert next(h for h in spoiled().hours if h.quantity == "seat_clearance").unknown == pytest.approx(5.0)


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_batch_scores_as_its_members_do(name: str) -> None:
    flexion = np.linspace(-40.0, 60.0, 101)
    entry = QUANTITIES.quantities["rula_neck_score"][0]
    given = {
        "neck_flexion": flexion,
        "neck_rotation": np.zeros(1),
        "phone": np.array(["none"]),
        "task_phone_share": np.zeros(1),
        "scores_neck_bent": np.array(["no"]),
    }
    batch = entry.call(*(given[need] for need in entry.needs))
    assert batch.tolist() == [neck(float(value)) for value in flexion]


def test_one_bad_cell_spoils_no_other() -> None:
    entry = QUANTITIES.quantities["rula_neck_score"][0]
    given = {
        "neck_flexion": np.array([5.0, np.nan, 500.0, 25.0]),
        "neck_rotation": np.zeros(1),
        "phone": np.array(["none"]),
        "task_phone_share": np.zeros(1),
        "scores_neck_bent": np.array(["no"]),
    }
    found = entry.call(*(given[need] for need in entry.needs)).tolist()
    assert found[0] == 1
    assert found[3] == 3
    assert found[1] == found[2] < 0


def test_what_a_view_from_the_side_does_not_show_adds_a_point_only_where_it_is_told() -> None:
    """McAtamney & Corlett 1993: trunk bent 20 to 60 is 3, one more where twisted or bent aside."""
    posture = {"arm_to_trunk": 5.0, "elbow_angle": 95.0, "neck_angle": 45.0, "trunk_angle": 30.0}
    usual = {name: int(score) for name, score in observed_items(**posture).items()}
    assert (usual["upper_arm"], usual["lower_arm"], usual["wrist"], usual["trunk"]) == (1, 1, 1, 3)
    added = {
        "arm_raised": "upper_arm",
        "arm_abducted": "upper_arm",
        "arm_out": "lower_arm",
        "wrist_deviated": "wrist",
        "neck_twisted": "neck",
        "neck_bent": "neck",
        "trunk_twisted": "trunk",
        "trunk_bent": "trunk",
    }
    for unseen, item in added.items():
        told = observed_items(**posture, unseen=Unseen(**{unseen: True}))
        assert {name: int(score) for name, score in told.items()} == usual | {item: usual[item] + 1}, unseen


def test_shoulders_are_raised_only_above_what_the_strain_index_lets_pass() -> None:
    most = curves()["hand_high"].zero_at
    raised = hands_raised(np.array([most - 1.0, most, most + 1.0]))
    assert raised.tolist() == [False, False, True]


def test_what_takes_none_of_the_time_counts_for_nothing_in_a_place_where_others_use_it() -> None:
    """Several arrangements are asked about at once, and in one of them the hands do something else."""
    used = _where_used(np.array([0.0, 0.5, 0.0, 0.5]), np.array([True, True, False, False]))
    assert used.tolist() == [False, True, False, False]
