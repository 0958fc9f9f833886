"""What is said of a step to see that it is right is true of the arrangement of its stage, measure by measure.

The claims are typed apart from the sentences' own functions: a pattern, and what it says of quantities.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from random import Random
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made
from tests.planning.drawn_cases import drawn_case
from tests.planning.drawn_workplaces import drawn_options
from tests.planning.whole_plans import WHOSE, planned
from tests.stages import seeds

from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.plan import plan
from deskmend.planning.selection import state_with
from deskmend.report.stages import stages_document
from deskmend.report.steps import right_text, said
from deskmend.workstation.state import PERSON, State, evaluate, state_of

Seen = Callable[..., float]
Claim = Callable[[Seen, float], bool]


def near(value: float, told: float) -> bool:
    return abs(abs(value) - told) <= 0.5001


def edge(target: str) -> Callable[[Seen], float]:
    """Top edge of a picture above the eyes [mm]."""
    return lambda q: q("target_top_height", target=target) - q("eye_height")


def of(name: str, **roles: str) -> Callable[[Seen], float]:
    return lambda q: q(name, **roles)


def heights(thing: str, gap: Callable[[Seen], float], to: str) -> dict[str, Claim]:
    """The three ways in which a height is told against another: level is within 10 mm."""
    return {
        rf"{thing} as high as {to}\.": lambda q, _: abs(gap(q)) <= 10,
        rf"{thing} (\d+) mm above {to}\.": lambda q, n: gap(q) > 10 and near(gap(q), n),
        rf"{thing} (\d+) mm below {to}\.": lambda q, n: gap(q) < -10 and near(gap(q), n),
    }


def reading(thing: str, target: str) -> dict[str, Claim]:
    lean = of("trunk_inclination", target=target)
    return {
        rf"You lean (\d+) degrees forward to read {thing}, not more\.": lambda q, n: near(lean(q), n),
        rf"You read {thing} standing upright\.": lambda q, _: lean(q) <= 10,
        rf"You read {thing} without leaning forward\.": lambda q, _: lean(q) <= 10,
    }


def lowest(q: Seen) -> float:
    hands = [hand for hand in ("keys", "mouse", "writing") if q("hand_share", hand=hand) > 0]
    return min((q("hand_gap", hand=hand) for hand in hands), default=0.0)


def most_looked_at(q: Seen) -> float:
    shares = {target: q("look_share", target=target) for target in ("screen", "second", "paper")}
    return q("neck_rotation", target=max(shares, key=lambda one: shares[one]))


CLAIMS: dict[str, Claim] = {
    r"Both soles rest wholly, and the seat's front edge does not press into the thighs\.": lambda q, _: (
        q("leg_gap") <= 10
    ),
    r"The seat's front edge stays (\d+) mm above the hollow of the knees: the soles do not rest wholly\.": (
        lambda q, n: q("leg_gap") > 10 and near(q("leg_gap"), n)
    ),
    r"The knees are not higher than the hips\.": lambda q, _: q("thigh_rise") <= 2,
    r"The thighs rise towards the knees by (\d+) degrees, not more\.": lambda q, n: near(q("thigh_rise"), n),
    r"The thighs move freely: (\d+) mm is free above them\.": lambda q, n: (
        q("clearance") >= 25 and near(q("clearance"), n)
    ),
    r"The thighs fit under the desk with (\d+) mm to spare\.": lambda q, n: (
        0 <= q("clearance") < 25 and near(q("clearance"), n)
    ),
    r"The legs do not go under the desk: (\d+) mm is lacking\.": lambda q, n: (
        q("clearance") < 0 and near(q("clearance"), n)
    ),
    **heights("The desk top is", of("desk_gap"), "the hanging elbows"),
    **heights("The arm pads are", of("armrest_gap"), "the hanging elbows"),
    **heights("The keys are", of("hand_gap", hand="keys"), "the hanging elbows"),
    **heights("The top edge of the picture is", edge("screen"), "your eyes"),
    **heights("The top edge of the second picture is", edge("second"), "your eyes"),
    r"The wrists are straight\.": lambda q, _: abs(q("wrist_extension", hand="keys")) <= 15,
    r"The wrists bend back by (\d+) degrees, not more\.": lambda q, n: (
        q("wrist_extension", hand="keys") > 15 and near(q("wrist_extension", hand="keys"), n)
    ),
    r"The wrists bend down by (\d+) degrees, not more\.": lambda q, n: (
        q("wrist_extension", hand="keys") < -15 and near(q("wrist_extension", hand="keys"), n)
    ),
    r"The upper arm hangs beside the body while the hand is on the mouse\.": lambda q, _: (
        q("upper_arm_elevation", hand="mouse") <= 20
    ),
    r"With the hand on the mouse the upper arm is raised by (\d+) degrees, not more\.": lambda q, n: near(
        q("upper_arm_elevation", hand="mouse"), n
    ),
    r"That is (\d+) degrees down: you read the top line through the lower part of the glasses\.": (
        lambda q, n: (
            (q("gaze_centre", target="screen") >= 25 and near(q("gaze_top", target="screen"), n))
            or (q("gaze_centre", target="second") >= 25 and near(q("gaze_top", target="second"), n))
        )
    ),
    r"You look at the (?:second )?(?:screen|paper) straight ahead\.": lambda q, _: most_looked_at(q) <= 15,
    r"The head turns by (\d+) degrees to the (?:second )?(?:screen|paper), not more\.": lambda q, n: near(
        most_looked_at(q), n
    ),
    **reading("the screen", "screen"),
    **reading("the paper", "paper"),
    r"(\d+) mm is free between the seat's front edge and the hollow of the knee\.": lambda q, n: near(
        q("seat_clearance"), n
    ),
    r"The work is as high as the elbows, or above them: nothing is moved for the turn\.": lambda q, _: (
        lowest(q) >= -10.5
    ),
    r"The work lies (\d+) mm below the elbows: put something firm, up to so high, under it for the turn, and "
    r"take it away again to sit\.": lambda q, n: near(lowest(q), n),
}
LABEL = re.compile(r"(?P<task>[A-Za-z0-9_-]+), (?P<mode>sitting|standing): ")
ONE = re.compile("|".join(f"(?:{pattern})" for pattern in CLAIMS))


def occasions(option: OptionSpec, state: State) -> Iterator[tuple[str, str, Seen]]:
    """Tasks that a fix serves, in the ways of working that they have."""
    level, name = option.owner
    for task, place in state.place_of.items():
        if name not in {"task": (task,), "place": (place,)}.get(level, (name,)):
            continue
        evaluation = evaluate(state, task)
        standing = float(evaluation("stand_share"))
        for mode, told, share in (("sit", "sitting", 1 - standing), ("stand", "standing", standing)):
            if share > 0:
                yield task, told, lambda q, e=evaluation, m=mode, **roles: float(e(q, mode=m, **roles))


def faults(text: str, option: OptionSpec, state: State) -> list[str]:
    """Claims of a text that do not hold in a state, and what of it is neither claim nor the catalog's own."""
    own = " ".join(said([option.fix.right], option, state))
    assert text.endswith(own)
    rest = text[: len(text) - len(own)].strip()
    whose: tuple[str, str] | None = None
    out = []
    while rest:
        label = LABEL.match(rest)
        if label:
            whose = label["task"], label["mode"]
            rest = rest[label.end() :]
        match = ONE.match(rest)
        if match is None:
            return [*out, f"no claim: {rest}"]
        claim = next(claim for pattern, claim in CLAIMS.items() if re.fullmatch(pattern, match[0]))
        number = re.search(r"\d+", match[0])
        told = float(number[0]) if number else 0.0
        asked = [q for task, mode, q in occasions(option, state) if whose in (None, (task, mode))]
        if not asked or not any(_holds(claim, q, told) for q in asked):
            out.append(f"{option.with_name}: {match[0]}")
        rest = rest[match.end() :].strip()
    return out


def _holds(claim: Claim, q: Seen, told: float) -> bool:
    try:
        return claim(q, told)
    except KeyError:
        return False


@pytest.mark.parametrize("whose", WHOSE)
def test_every_sentence_is_true_of_its_stage(whose: Any) -> None:
    _, _, of_case = planned(whose)
    documents = stages_document(of_case)
    for stage, document in zip(of_case.stages, documents, strict=True):
        for option, step in zip(stage.options, document["steps"], strict=True):
            assert step["with"] == option.with_name
            if step["right"] is not None:
                assert faults(step["right"], option, stage.state) == []


@seeds(40)
def test_every_sentence_is_true_of_any_arrangement(seed: int) -> None:
    """Also of arrangements that no plan would take: fixes drawn at random that can be applied together."""
    draw = Random(seed)
    case = drawn_case(seed)
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, SAMPLE, everything=True)
    for _ in range(3):
        options = drawn_options(draw, offers, state, 12)
        after = state_with(state, options)
        for option in options:
            text = right_text(option, after)
            assert text is None or faults(text, option, after) == []


def test_a_sentence_of_another_state_is_noticed() -> None:
    """The check above can fail: what is said of one arrangement is not true of another."""
    case = made(places__0__seat__height="470", owns={"hardback_book": ["30", "40"]})
    found = plan(case, CATALOG, SAMPLE, 0, every_gain=True)
    option = next(o for o in found.stages[0].options if o.fix.id == "feet_book")
    text = right_text(option, found.state_after)
    assert text is not None
    assert faults(text, option, found.state_after) == []
    assert faults(text, option, found.state_before) != []


def test_who_reads_through_the_lower_glass_is_not_told_to_look_straight_ahead() -> None:
    case = made(
        person__eyewear="multifocal",
        devices__monitor={"top": "480", "height": "290", "top_range": ["380", "505"]},
        tasks=[{"id": "work", "place": "den", "hours": "6", "spell": "50", "main": "monitor"}],
        devices__keyboard="separate",
        devices__mouse="separate",
    )
    found = plan(case, CATALOG, SAMPLE, 0, every_gain=True)
    assert found.state_after.values[PERSON, "person.eyewear"] == "multifocal"
    option = next(o for o in found.stages[-1].options if o.fix.decision == "screen_adjust")
    text = right_text(option, found.state_after)
    assert text is not None
    assert "below your eyes" in text
    assert faults(text, option, found.state_after) == []


def test_a_turn_of_standing_says_what_to_change() -> None:
    fix = CATALOG.by_id["stand_by_turns"]
    assert fix.checks[0] == "turns"
