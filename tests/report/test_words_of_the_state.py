"""What a step says names what is there: no laptop where a tablet is, no chair where there is a stool."""

from __future__ import annotations

from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.intake.case import Case
from deskmend.planning.assessment import assess, missing_measures
from deskmend.planning.model.offers import offers_for
from deskmend.planning.model.options import OptionSpec
from deskmend.planning.selection import state_with
from deskmend.report.steps import how_text, said
from deskmend.workstation.state import DEVICES, PERSON, state_of

FLAT = {"screen_top": "25", "screen_height": "15", "keys": "10", "depth": "170"}
LEANING = {"screen_top": "130", "screen_height": "120", "keys": "55", "depth": "180"}
WITH_KEYS = {"keyboard": "separate", "mouse": "separate", "phone": "none"}


def _option(case: Case, fix: str) -> OptionSpec:
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE, everything=True)
    return next(option for option in offers.options() if option.fix.id == fix)


def _texts(case: Case, fix: str) -> str:
    """All that is said of how a step is done and what to mind, in the state that it leads to."""
    option = _option(case, fix)
    after = state_with(state_of(case), [option])
    lines = [*option.fix.how, *option.fix.cautions, *option.fix.side_effects]
    return " ".join([*how_text(option, state_of(case), after), *said(lines, option, after)])


@pytest.mark.parametrize(
    ("laptop", "kind"), [(None, "laptop"), (FLAT, "tablet"), (LEANING, "tablet")], ids=["plain", "flat", "up"]
)
def test_a_tablet_is_known_by_keys_that_lie_in_its_picture(laptop: dict[str, str] | None, kind: str) -> None:
    case = made() if laptop is None else made(devices__laptop=laptop)
    assert state_of(case).values[DEVICES, "laptop.kind"] == kind


@pytest.mark.parametrize("fix", ["screen_box", "laptop_incline", "ironing_board", "inline_holder_made"])
def test_a_tablet_is_told_nothing_of_a_laptop(fix: str) -> None:
    apart = {} if fix in ("laptop_incline", "ironing_board") else WITH_KEYS
    more: dict[str, Any] = {"tasks__0__reference": "paper", "places__0__desk__underside": "560"}
    laptop, tablet = (
        _texts(made(**more, devices={"laptop": one, **apart}), fix)
        for one in ({"screen_top": "230", "screen_height": "190", "keys": "20", "depth": "240"}, LEANING)
    )
    assert "laptop" in laptop
    assert "laptop" not in tablet
    assert "air holes" not in tablet


def test_a_screen_looked_at_is_called_a_tablet_in_what_is_measured() -> None:
    found = assess(made(devices__laptop=LEANING), CATALOG, SAMPLE)
    assert {one.of for one in found.quantities if one.name == "viewing_distance"} == {"tablet"}


def test_blocks_are_joined_only_where_they_are_high() -> None:
    more: dict[str, Any] = {
        "means": {
            "currency": "EUR",
            "skill": "3",
            "may_alter": "yes",
            "tools": ["saw", "drill", "screwdriver"],
        },
        "room": {"landlord_leave": "yes"},
    }
    case = made(**more)
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE, everything=True)
    sized = {option.size: option for option in offers.options() if option.fix.id == "desk_blocks"}
    for size, option in sized.items():
        told = " ".join(said(option.fix.how, option, state_of(case)))
        assert ("Join the left pair" in told) == (float(str(size)) > 60)
    assert min(map(float, map(str, sized))) <= 60 < max(map(float, map(str, sized)))


def test_the_weak_side_gets_no_more_work() -> None:
    more: dict[str, Any] = {"devices": {"monitor": {"top": "430", "height": "300"}, **WITH_KEYS}}
    more |= {"devices__keyboard_size": {"number_pad": "yes"}, "tasks__0__main": "monitor"}

    def reasons(case: Case) -> list[str]:
        left = offers_for(case, state_of(case), CATALOG, SAMPLE).left_out
        return [one.reason for one in left if one.fix.id == "mouse_other_hand"]

    assert reasons(made(**more)) == []
    assert state_of(made(person__weak_side="left", **more)).values[PERSON, "person.weak_side"] == "left"
    assert reasons(made(person__weak_side="left", **more)) == [
        "The left side is weak, and gets no more work."
    ]


def test_where_paper_lies_is_not_asked_of_who_has_none() -> None:
    assert not [one for one in missing_measures(state_of(made())) if "paper.side" in one]
    assert [
        one for one in missing_measures(state_of(made(tasks__0__reference="paper"))) if "paper.side" in one
    ]


def test_no_wrist_is_told_of_a_hand_that_writes() -> None:
    """RULA takes one angle for it and strain none, so a measured one beside would contradict both."""
    found = assess(made(tasks__0__reference="paper", tasks__0__writing="yes"), CATALOG, SAMPLE)
    assert {one.of for one in found.quantities if one.name == "wrist_extension"} == {"keys", "mouse"}
