"""Goals are reached exactly as going through every combination says, and a miss names the best there is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.stages import NOW, some

from deskmend.errors import InputFaults
from deskmend.planning.assessment import assess
from deskmend.planning.plan import NoPlan, Plan, plan
from deskmend.planning.reach import build_goals, goals_of, score_names
from deskmend.planning.ready_case import prepare

from .small_cases import FIXES, Combination, combinations, small_case

NAMES = some(sorted(FIXES), "counter_calls")


def within(name: str, money: int | None, minutes: int | None) -> list[Combination]:
    return [
        one
        for one in combinations(name)
        if (money is None or one.cost <= money) and (minutes is None or one.minutes <= minutes)
    ]


def reached(name: str, money: int | None = None, minutes: int | None = None, **reach: object) -> Plan:
    small = small_case(name)
    unlimited = replace_means(small.case, money, minutes)
    return plan(unlimited, small.catalog, small.prices, goals=goals_of(reach))


def replace_means(case, money, minutes):  # type: ignore[no-untyped-def]
    means = case.means.model_copy(update={"budget": money, "minutes": minutes})
    return case.model_copy(update={"means": means})


def check_against_all(name: str, money: int | None, minutes: int | None, goals: dict[str, int]) -> None:
    possible = within(name, money, minutes)
    good = [one for one in possible if all(one.values[g] <= v for g, v in goals.items())]
    written = {g: v if g in ("rula", "rosa") else f"{v / 1_000_000:.6f}" for g, v in goals.items()}
    if not good:
        with pytest.raises(NoPlan) as caught:
            reached(name, money, minutes, **written)
        for goal, value in goals.items():
            best = min(one.values[goal] for one in possible)
            if best > value:
                shown = str(best) if goal in ("rula", "rosa") else f"{best / 1_000_000:.6f}".rstrip("0")
                assert f"the least within the limits is {goal} {shown}" in caught.value.hinders
        return
    best_of_all = min(good, key=lambda one: (one.cost, one.minutes, one.values["strain"]))
    found = reached(name, money, minutes, **written)
    assert (found.cost, found.minutes, found.after.total) == (
        best_of_all.cost,
        best_of_all.minutes,
        best_of_all.values["strain"],
    )
    assert found.proven


@pytest.mark.parametrize("name", NAMES)
def test_small_cases_leave_something_to_choose(name: str) -> None:
    values = {(one.values["rula"], one.values["rosa"]) for one in combinations(name)}
    assert len(combinations(name)) >= 20
    assert len(values) >= 2


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("score", some(["rula", "rosa"], "rosa"))
def test_every_value_of_a_score_as_goal_equals_going_through_all(name: str, score: str) -> None:
    least = min(one.values[score] for one in combinations(name))
    most = max(one.values[score] for one in combinations(name))
    for value in range(max(least - 1, 1), most + 1):
        check_against_all(name, None, None, {score: value})


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("region", some(["neck", "lower_back", "shoulders", "strain"], "neck", "strain"))
def test_strain_goals_equal_going_through_all(name: str, region: str) -> None:
    values = sorted({one.values[region] for one in combinations(name)})
    # At a value that occurs, just under it, and under the least there is.
    for value in (values[len(values) // 2], values[len(values) // 2] - 1, values[0], values[0] - 1):
        if value >= 0:
            check_against_all(name, None, None, {region: value})


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("money", "minutes"), [(0, None), (1000, 15), (None, 10)])
def test_money_and_minutes_still_limit(name: str, money: int | None, minutes: int | None) -> None:
    for score in ("rula", "rosa"):
        values = sorted({one.values[score] for one in combinations(name)})
        check_against_all(name, money, minutes, {score: values[0]})


@pytest.mark.parametrize("name", NAMES)
def test_two_goals_together_equal_going_through_all(name: str) -> None:
    rula = sorted({one.values["rula"] for one in combinations(name)})
    strains = sorted(one.values["strain"] for one in combinations(name))
    check_against_all(name, None, None, {"rula": rula[0], "strain": strains[len(strains) // 3]})
    check_against_all(name, None, None, {"rula": rula[-1], "rosa": 10})


@pytest.mark.parametrize("name", NAMES)
def test_a_reached_plan_assessed_again_has_the_promised_scores(name: str) -> None:
    small = small_case(name)
    for score in ("rula", "rosa"):
        value = min(one.values[score] for one in combinations(name))
        found = reached(name, **{score: value})
        again = assess(
            small.case, small.catalog, small.prices, [step.option.with_name for step in found.steps]
        )
        for name_of in score_names():
            assert again.scores.score(name_of) == found.scores_after.score(name_of)
        assert (again.scores.reached(score) or 99) <= value
        assert again.strain.total == found.after.total
        assert again.bill.total == found.cost


@pytest.mark.both
def test_a_stricter_goal_never_costs_less() -> None:
    for name in sorted(FIXES) if NOW.thorough else ["counter_calls"]:
        costs = []
        for value in range(10, 0, -1):
            try:
                costs.append(reached(name, rosa=value).cost)
            except NoPlan:
                break
        assert costs == sorted(costs)


def test_a_goal_that_holds_already_costs_nothing_and_does_nothing() -> None:
    found = reached("kitchen_books", rula=7, rosa=10)
    assert (found.cost, found.minutes, found.steps) == (0, 0, ())


def test_a_miss_says_which_items_stay_high_and_what_would_help() -> None:
    with pytest.raises(NoPlan) as caught:
        reached("kitchen_books", rosa=1)
    assert "seat height" in caught.value.hinders
    assert "nothing on offer reaches it" in caught.value.would_help
    best = min(one.values["rula"] for one in combinations("kitchen_books"))
    cheapest = min(one.cost for one in combinations("kitchen_books") if one.values["rula"] == best)
    assert cheapest > 0
    with pytest.raises(NoPlan) as caught:
        reached("kitchen_books", money=0, rula=best)
    assert f"{cheapest / 100:.2f} EUR" in caught.value.would_help


def test_musts_that_break_the_limits_are_told_before_goals() -> None:
    small = small_case("kitchen_books")
    case = replace_means(small.case, 0, None)
    with pytest.raises(NoPlan, match="must be in the plan"):
        plan(
            case, small.catalog, small.prices, must=["kitchen.seat_cushion=60"], goals=goals_of({"rosa": 10})
        )


def test_no_goal_builds_no_score_table() -> None:
    small = small_case("kitchen_books")
    ready = prepare(small.case, small.catalog, small.prices)
    before = [node.name for node in ready.model.builder.nodes]
    assert not any("rula" in name or "rosa" in name for name in before)
    assert build_goals(ready.model, ()) == ()
    assert [node.name for node in ready.model.builder.nodes] == before
    built = build_goals(ready.model, goals_of({"rula": 3, "rosa": 3}))
    after = [node.name for node in ready.model.builder.nodes]
    assert any("rula" in name for name in after)
    # ROSA needs no node of its own here since a roll alone no longer changes how well the back is supported.
    assert [(one.goal.name, len(one.grids) > 0) for one in built] == [("rula", True), ("rosa", True)]


@pytest.mark.anew
def test_a_state_that_cannot_be_scored_reaches_no_goal() -> None:
    # A seat edge over a metre from the knee: ROSA has no band for it, and it must not be pulled into one.
    small = small_case("kitchen_books")
    ready = prepare(small.case, small.catalog, small.prices)
    slot = (("person", ""), "body.buttock_popliteal_length")
    spoiled = ready.state.with_values({slot: 2500.0})
    prepared = replace(ready, state=spoiled)
    assert prepared.state.values[slot] == 2500.0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("deskmend.planning.ready_case.state_of", lambda case: spoiled)
        with pytest.raises(NoPlan, match="not reached"):
            plan(small.case, small.catalog, small.prices, goals=goals_of({"rosa": 10}))


@pytest.mark.parametrize(
    ("reach", "allowed"),
    [
        ({"rula": 0}, "rula a whole number 1 to 7"),
        ({"rula": "3.5"}, "rula a whole number 1 to 7"),
        ({"rosa": 11}, "rosa a whole number 1 to 10"),
        ({"rosa": True}, "rosa a whole number 1 to 10"),
        ({"neck": "-0.1"}, "neck strain-hours a day, 0 to 1000"),
        ({"neck": "0.0000001"}, "at most six decimals"),
        ({"neck": "nan"}, "strain-hours"),
        ({"strain": "1e9999"}, "strain-hours"),
        ({"neck": None}, "strain-hours"),
        ({"neckk": "1"}, "did you mean neck?"),
    ],
)
def test_what_is_no_goal_is_refused_with_what_is_allowed(reach: dict[str, object], allowed: str) -> None:
    with pytest.raises(InputFaults) as caught:
        goals_of(reach)
    assert allowed in str(caught.value)


def test_every_wrong_goal_is_told_at_once_and_none_twice() -> None:
    with pytest.raises(InputFaults) as caught:
        goals_of([("rula", "9"), ("rosa", "4"), ("rosa", "3"), ("knee", "1")])
    assert len(caught.value.faults) == 3


def test_goals_are_exact_decimals() -> None:
    assert [goal.at_most for goal in goals_of({"neck": "0.1", "strain": 3, "rula": "3"})] == [
        100_000,
        3_000_000,
        3,
    ]
    assert [goal.text for goal in goals_of({"neck": "0.10", "rosa": 4})] == ["neck=0.1", "rosa=4"]
