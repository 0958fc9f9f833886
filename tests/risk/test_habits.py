"""Habits count by how long people keep them: the mean over days of both kinds, each exposure rounded once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.score import PLAIN, score, strain_of_many
from deskmend.planning.selection import state_with
from deskmend.risk.strain import mean_millionths
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.fields import KEPT_UP, LAPSED
from deskmend.workstation.state import state_of

CASE = made(
    tasks__0__spell="110",
    places__0__sitting_spell="170",
    places__0__desk__height="1000",
    places__0__desk__underside="960",
    devices__phone="cradled",
    tasks__0__phone_share="0.3",
)
STATE = state_of(CASE)


def option(name: str) -> OptionSpec:
    offers: Offers = offers_for(CASE, STATE, CATALOG, SAMPLE)
    return next(one for one in offers.options() if one.with_name == name)


def test_the_mean_is_rounded_once() -> None:
    """By hand: 1 h, kept on a quarter of the days; 0.25 x 0.0000014 + 0.75 x 0.0000026 = 0.0000023 h."""
    one = np.asarray(1.0)
    kept, lapsed = [one, np.asarray(1.4e-6), one], [one, np.asarray(2.6e-6), one]
    assert int(mean_millionths(1.0, np.asarray(0.25), one, one, *kept, *lapsed)) == 2
    # apart they would be 1 and 3, whose mean is 2.5; a day without a share of the time adds nothing
    never = [np.asarray(0.0), np.asarray(np.nan), one]
    assert int(mean_millionths(1e6, np.asarray(0.25), one, one, *kept, *never)) == 350_000


@pytest.mark.parametrize("name", ["break_timer", "den.stand_by_turns"])
def test_a_habit_takes_off_its_part_of_what_it_would_every_day(name: str) -> None:
    """Each exposure against both states scored apart: no more than rounding lies between."""
    habit = option(name)
    assert habit.fix.kept_up is not None
    share = habit.fix.kept_up.share
    always = replace(
        habit,
        changes=tuple(
            change
            for one in habit.changes
            if one.slot[1] != KEPT_UP
            for change in (one, replace(one, slot=(one.slot[0], LAPSED[one.slot[1]])))
        ),
    )

    def terms(*options: OptionSpec) -> dict[tuple[str, str, str], int]:
        out: dict[tuple[str, str, str], int] = {}
        for term in score(state_with(STATE, options), PLAIN).terms:
            key = (term.exposure, term.region, str(sorted(term.roles.items())))
            out[key] = out.get(key, 0) + term.value
        return out

    now, every_day, some_days = terms(), terms(always), terms(habit)
    assert sum(every_day.values()) < sum(some_days.values()) < sum(now.values())
    for key in some_days:
        mean = share * every_day.get(key, 0) + (1 - share) * now.get(key, 0)
        assert some_days[key] == pytest.approx(mean, abs=1.01), key


def test_without_a_habit_days_are_alike_whatever_else_is_changed() -> None:
    """Another fix that changed the same would change both kinds of days."""
    values = STATE.values
    for name, lapsed in LAPSED.items():
        owners = {owner for owner, field in values if field == name}
        assert owners
        assert all(values[owner, name] == values[owner, lapsed] for owner in owners)


def test_a_timer_and_turns_of_standing_are_one_schedule() -> None:
    with pytest.raises(TwoSets, match="kept_up"):
        state_with(STATE, [option("break_timer"), option("den.stand_by_turns")])


def test_states_scored_together_have_what_they_have_alone() -> None:
    states = [
        state_with(STATE, group) for group in ((), (option("break_timer"),), (option("den.stand_by_turns"),))
    ]
    assert strain_of_many(states, [PLAIN] * 3) == [score(one, PLAIN).total for one in states]


def test_every_habit_whose_days_are_counted_says_where_that_comes_from() -> None:
    """Timer and shifts 0.25, turns 0.30 (judgement; daily use 0.304 of 1098, published)."""
    shares = {fix.id: fix.kept_up.share for fix in CATALOG.fixes if fix.kept_up is not None}
    assert shares == {"break_timer": 0.25, "stand_by_turns": 0.3, "weight_shifts": 0.25}
    for fix in CATALOG.fixes:
        if fix.kept_up is not None:
            assert fix.kept_up.status == "judgement"
            assert all(key in CATALOG.sources for key in fix.kept_up.sources)
