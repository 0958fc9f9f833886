"""Why a step is there is said from the two states it stands between, and a worse score with its reason."""

from __future__ import annotations

from random import Random

from tests.planning.cases import CATALOG, SAMPLE, made
from tests.planning.drawn_cases import drawn_case
from tests.stages import seeds

from deskmend.planning.model.offers import offers_for
from deskmend.planning.score import PLAIN, score
from deskmend.planning.selection import state_with
from deskmend.report.scores import worse_scores
from deskmend.report.steps import LEAST_SHOWN, MOST_REASONS, why_numbers, why_text
from deskmend.report.words import region_word
from deskmend.risk.scores.day import methods, scores_of
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import Owner, State, state_of

EASED, MORE, FOR_NOW = (
    "It takes strain off: ",
    "In return it puts more on: ",
    "For now it adds strain for: ",
)


def named(sentence: str, start: str) -> set[str]:
    """Words for the parts of the body that stand behind a start, what is in brackets left out."""
    if start not in sentence:
        return set()
    told = sentence.partition(start)[2].split(". ")[0].rstrip(".")
    plain, depth = "", 0
    for character in told:
        depth += (character == "(") - (character == ")")
        plain += "" if depth or character == ")" else character
    return {part.strip() for part in plain.split(",")}


def hold(before: State, after: State) -> None:
    had, has = (score(state, PLAIN).by_region for state in (before, after))
    told = why_text(before, after)
    # what reads as 0.00 is not told
    less = {region_word(r) for r in had if had[r] - has[r] >= LEAST_SHOWN}
    more = {region_word(r) for r in had if has[r] - had[r] >= LEAST_SHOWN}
    assert named(told, EASED) <= less
    assert len(named(told, EASED)) == min(len(less), MOST_REASONS)
    worse = named(told, MORE) | named(told, FOR_NOW)
    assert worse <= more
    assert len(worse) == min(len(more), MOST_REASONS)
    nothing = "By itself it takes nothing off: it counts together with another step."
    assert (told == nothing) == (not less and not more)
    figures = why_numbers(before, after)
    assert " 0.00 " not in figures
    assert "counts for" not in told + figures
    assert not any(character.isdigit() for character in told)


@seeds(4, 40)
def test_the_parts_of_the_body_named_are_those_that_gain_and_lose(seed: int) -> None:
    draw, case = Random(seed), drawn_case(seed)
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, SAMPLE)
    before = state
    taken = []
    for offer in draw.sample(offers.decisions, min(6, len(offers.decisions))):
        taken.append(draw.choice(offer.options))
        try:
            after = state_with(state, taken)
        except TwoSets:
            taken.pop()
            continue
        if after.place_of == before.place_of:
            hold(before, after)
        before = after


def test_a_measure_that_stays_is_said_to_stay_with_what_it_takes_off() -> None:
    case = made(tasks__0__spell="120", places__0__seat__surface="hard")
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, SAMPLE)
    timer = next(option for option in offers.options() if option.fix.id == "break_timer")
    told = why_numbers(state, state_with(state, [timer]))
    assert "as before" in told
    assert "less strain" in told


@seeds(4, 40)
def test_every_score_that_gets_worse_is_told_with_what_goes_up(seed: int) -> None:
    draw, case = Random(seed), drawn_case(seed)
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, SAMPLE)
    taken = [draw.choice(o.options) for o in offers.decisions if draw.random() < 0.2]
    try:
        after = state_with(state, taken)
    except TwoSets:
        return
    first, second = scores_of(state), scores_of(after)
    told = worse_scores(first, second)
    for method in methods():
        for was, now in zip(first.tasks, second.tasks, strict=True):
            one, two = was.score(method.name), now.score(method.name)
            start = f"{method.title} of {was.task} gets worse, from {one} to {two}. What goes up: "
            said = [text for text in told if text.startswith(start)]
            worse = one is not None and two is not None and two > one
            assert len(said) == worse
            if worse:
                had = {item.item: item.score or 0 for item in was.shown(method.name)}
                for item in now.shown(method.name):
                    if item.score is not None and item.score > had.get(item.item, 0):
                        assert item.reason in said[0]


def test_who_sits_and_stands_is_told_which_of_the_two_a_figure_is_of() -> None:
    at: Owner = ("place", "den")
    before = state_of(made(places__0__posture="both"))
    higher = before.with_values({(at, "desk.height"): 750.0})
    told = why_numbers(before, higher)
    assert "(sitting)" in told
    assert "(standing)" in told
    seated = state_of(made())
    alone = why_numbers(seated, seated.with_values({(at, "desk.height"): 750.0}))
    assert "sitting" not in alone


def test_what_strains_alike_sitting_and_standing_is_not_made_worse_by_turns() -> None:
    case = made(
        places__0__light={"lux": "200", "glare": "none"},
        places__0__desk={"height": "1000", "depth": "700", "width": "1200", "edge": "sharp"},
    )
    state = state_of(case)
    turns = next(
        o for o in offers_for(case, state, CATALOG, SAMPLE).options() if o.fix.id == "stand_by_turns"
    )
    told = why_numbers(state, state_with(state, [turns]))
    assert "Worse: " in told
    assert "light where one reads" not in told
    assert "hard desk edge" not in told
