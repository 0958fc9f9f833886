"""What is said of a step to see that it is right is true of the arrangement of its stage, measure by measure.

The claims are typed apart from the sentences' own functions: a pattern, and what it says of quantities.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random
from typing import Any

import pytest
from tests.planning.cases import CATALOG, GIVING_WAY, SAMPLE, made
from tests.planning.drawn_cases import drawn_case
from tests.planning.drawn_workplaces import drawn_options
from tests.planning.whole_plans import WHOSE, planned
from tests.stages import seeds

from deskmend.planning.model.offers import OptionSpec, offers_for
from deskmend.planning.plan import plan
from deskmend.planning.selection import state_with
from deskmend.report.stages import rights_of, stages_document
from deskmend.report.steps import lacking_text, right_text, said, why_text
from deskmend.workstation.state import PERSON, State, evaluate, state_of

Seen = Callable[..., float]


@dataclass(frozen=True)
class Claim:
    """What a sentence says of quantities, and whether it is told as right or as lacking; None: as either."""

    holds: Callable[[Seen, float], bool]
    right: bool | None = None
    within: Callable[[Seen], bool] | None = None


def yes(holds: Callable[[Seen, float], bool]) -> Claim:
    return Claim(holds, True)


def no(holds: Callable[[Seen, float], bool]) -> Claim:
    return Claim(holds, False)


def near(value: float, told: float) -> bool:
    return abs(abs(value) - told) <= 0.5001


def edge(target: str) -> Callable[[Seen], float]:
    """Top edge of a picture above the eyes [mm]."""
    return lambda q: q("target_top_height", target=target) - q("eye_height")


def of(name: str, **roles: str) -> Callable[[Seen], float]:
    return lambda q: q(name, **roles)


def heights(
    thing: str, gap: Callable[[Seen], float], to: str, within: Callable[[Seen], bool]
) -> dict[str, Claim]:
    """The three ways in which a height is told against another: level is within 10 mm."""

    def claim(holds: Callable[[Seen, float], bool]) -> Claim:
        return Claim(holds, within=within)

    return {
        rf"{thing} as high as {to}\.": claim(lambda q, _: abs(gap(q)) <= 10),
        rf"{thing} (\d+) mm above {to}\.": claim(lambda q, n: gap(q) > 10 and near(gap(q), n)),
        rf"{thing} (\d+) mm below {to}\.": Claim(
            lambda q, n: gap(q) < -10 and near(gap(q), n), within=within
        ),
    }


def reading(thing: str, target: str) -> dict[str, Claim]:
    lean = of("trunk_inclination", target=target)
    return {
        rf"You lean forward to read {thing}\.": no(lambda q, _: lean(q) > 10),
        rf"You read {thing} standing upright\.": yes(lambda q, _: lean(q) <= 10),
        rf"You read {thing} without leaning forward\.": yes(lambda q, _: lean(q) <= 10),
    }


def work(q: Seen) -> list[str]:
    return [hand for hand in ("keys", "mouse", "writing") if q("hand_share", hand=hand) > 0]


def lowest(q: Seen) -> float:
    return min((q("hand_gap", hand=hand) for hand in work(q)), default=0.0)


def highest(q: Seen) -> float:
    return max((q("hand_gap", hand=hand) for hand in work(q)), default=0.0)


def furthest(q: Seen) -> float:
    return max((q("reach", hand=hand) for hand in work(q)), default=0.0)


def suits(hand: str) -> Callable[[Seen], bool]:
    """Whether a hand works at a height that scores nothing, or at the elbow itself."""
    top = {"writing": lambda q: q("elbow_lift", hand="writing") <= 50}.get(
        hand, lambda q: q("hand_gap", hand=hand) <= 40
    )
    low = 0 if hand == "writing" else -10
    return lambda q: top(q) and q("hand_gap", hand=hand) >= low


def picture(target: str) -> Callable[[Seen], bool]:
    """Whether the eyes find a picture within the range that scores nothing, with their glasses."""

    def within(q: Seen) -> bool:
        middle = q("gaze_centre", target=target)
        if q("person_eyewear") == "multifocal":
            return 25 <= middle <= 40
        return q("gaze_top", target=target) >= 0 and middle <= 20

    return within


def most_looked_at(q: Seen) -> float:
    shares = {target: q("look_share", target=target) for target in ("screen", "second", "paper")}
    return q("neck_rotation", target=max(shares, key=lambda one: shares[one]))


def higher(q: Seen) -> float:
    return q("buttock_popliteal_length") * math.sin(math.radians(q("thigh_rise")))


def on_mouse(q: Seen) -> float:
    return q("upper_arm_elevation", hand="mouse")


CLAIMS: dict[str, Claim] = {
    r"Both soles rest wholly, and the seat's front edge does not press into the thighs\.": yes(
        lambda q, _: q("leg_gap") <= 10
    ),
    r"The seat's front edge stays (\d+) mm above the hollow of the knees: the soles do not rest wholly\.": no(
        lambda q, n: q("leg_gap") > 10 and near(q("leg_gap"), n)
    ),
    r"The knees are not higher than the hips\.": yes(lambda q, _: q("thigh_rise") <= 2),
    r"The knees are (\d+) mm higher than the hips\.": Claim(
        lambda q, n: near(higher(q), n), within=lambda q: q("hip_angle") >= 90
    ),
    r"The thighs move freely: (\d+) mm is free above them\.": yes(
        lambda q, n: q("clearance") >= 25 and near(q("clearance"), n)
    ),
    r"Only (\d+) mm is free above the thighs\.": no(
        lambda q, n: 0 <= q("clearance") < 25 and near(q("clearance"), n)
    ),
    r"The legs do not go under the desk: (\d+) mm is lacking\.": no(
        lambda q, n: q("clearance") < 0 and near(q("clearance"), n)
    ),
    **heights(
        "The desk top is",
        of("desk_gap"),
        "the hanging elbows",
        lambda q: abs(q("desk_gap")) <= 10 or all(suits(hand)(q) for hand in work(q)),
    ),
    **heights(
        "The arm pads are", of("armrest_gap"), "the hanging elbows", lambda q: abs(q("armrest_gap")) <= 10
    ),
    **heights(
        "The keys are",
        of("hand_gap", hand="keys"),
        "the hanging elbows",
        lambda q: abs(q("hand_gap", hand="keys")) <= 10 or suits("keys")(q),
    ),
    **heights("The top edge of the picture is", edge("screen"), "your eyes", picture("screen")),
    **heights("The top edge of the second picture is", edge("second"), "your eyes", picture("second")),
    r"The wrists are straight\.": yes(lambda q, _: abs(q("wrist_extension", hand="keys")) <= 15),
    r"The wrists bend back\.": no(lambda q, _: q("wrist_extension", hand="keys") > 15),
    r"The wrists bend down\.": no(lambda q, _: q("wrist_extension", hand="keys") < -15),
    r"The upper arm hangs beside the body while the hand is on the mouse\.": yes(
        lambda q, _: on_mouse(q) <= 20
    ),
    r"With the hand on the mouse the upper arm does not hang beside the body\.": no(
        lambda q, _: on_mouse(q) > 20 and not (suits("mouse")(q) and q("reach_severity", hand="mouse") == 0)
    ),
    r"You read the top line through the lower part of the glasses\.": yes(
        lambda q, _: picture("screen")(q) or picture("second")(q)
    ),
    r"You look at the (?:second )?(?:screen|paper) straight ahead\.": yes(
        lambda q, _: most_looked_at(q) <= 15
    ),
    r"You turn to the (?:second )?(?:screen|paper) with the body, not with the head\.": yes(
        lambda q, _: most_looked_at(q) <= 15 and q("trunk_twist", hand="keys") > 10
    ),
    r"The head is turned to the (?:second )?(?:screen|paper)\.": no(lambda q, _: most_looked_at(q) > 15),
    **reading("the screen", "screen"),
    **reading("the paper", "paper"),
    r"(\d+) mm is free between the seat's front edge and the hollow of the knee\.": yes(
        lambda q, n: q("seat_clearance") >= 50 and near(q("seat_clearance"), n)
    ),
    r"Only (\d+) mm is free between the seat's front edge and the hollow of the knee\.": no(
        lambda q, n: q("seat_clearance") < 50 and near(max(q("seat_clearance"), 0), n)
    ),
    r"The work is as high as the elbows: nothing is moved for the turn\.": yes(
        lambda q, _: lowest(q) >= -10.5 and highest(q) <= 10.5
    ),
    r"The work is not below the elbows: nothing is moved for the turn\.": yes(
        lambda q, _: lowest(q) >= -10.5 and highest(q) > 10
    ),
    r"You reach everything used often without stretching\.": yes(lambda q, _: furthest(q) <= 380),
    r"You reach out (\d+) mm to the (?:keys|mouse or touchpad|paper you write on)\.": no(
        lambda q, n: furthest(q) > 380 and near(furthest(q), n)
    ),
    r"The work lies (\d+) mm below the elbows: put something firm, at most that thick, under it for the "
    r"turn, and take it away again to sit\.": yes(lambda q, n: near(lowest(q), n)),
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
                yield task, told, lambda q, e=evaluation, m=mode, **roles: value(e(q, mode=m, **roles))


def value(read: Any) -> Any:
    """A quantity as a number, or as the word it is."""
    return str(read) if isinstance(read, str) else float(read)


def faults(option: OptionSpec, state: State, told: State | None = None) -> list[str]:
    """Claims that do not hold in a state, and what of them is neither claim nor the catalog's own.

    `told` is the state they are said of; the same if left out.
    """
    own = " ".join(said([option.fix.right], option, told or state))
    right = right_text(option, told or state) or ""
    assert own in right
    right = right.replace(own, " ", 1) if own else right
    return [
        *_faults(right, option, state, as_right=True),
        *_faults(lacking_text(option, told or state) or "", option, state, as_right=False),
    ]


def _faults(text: str, option: OptionSpec, state: State, as_right: bool) -> list[str]:
    rest = text.strip()
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
        if not asked or not any(_holds(claim, q, told, as_right) for q in asked):
            out.append(f"{option.with_name}: {match[0]} ({'right' if as_right else 'lacking'})")
        rest = rest[match.end() :].strip()
    return out


def _holds(claim: Claim, q: Seen, told: float, as_right: bool) -> bool:
    try:
        right = claim.right if claim.within is None else claim.within(q)
        return claim.holds(q, told) and right == as_right
    except KeyError:
        return False


@pytest.mark.parametrize("whose", WHOSE)
def test_every_sentence_is_true_of_its_stage(whose: Any) -> None:
    _, _, of_case = planned(whose)
    documents = stages_document(of_case)
    for stage, document in zip(of_case.stages, documents, strict=True):
        for option, step in zip(stage.options, document["steps"], strict=True):
            assert step["with"] == option.with_name
            texts = right_text(option, stage.state), lacking_text(option, stage.state)
            assert (step["right"], step["lacking"]) == texts
            assert faults(option, stage.state) == []


@seeds(4, 40)
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
            assert faults(option, after) == []


def test_what_holds_for_one_task_alone_is_told_after_what_holds_for_all() -> None:
    """What follows the name of a task is read as of that task; in seed 288607 it was of another."""
    texts = []
    for seed in (288607, 4, 5):
        draw = Random(seed)
        state = state_of(drawn_case(seed))
        offers = offers_for(drawn_case(seed), state, CATALOG, SAMPLE, everything=True)
        for _ in range(3):
            options = drawn_options(draw, offers, state, 12)
            after = state_with(state, options)
            assert [fault for option in options for fault in faults(option, after)] == []
            texts += [right_text(option, after) or "" for option in options]
    assert any(
        re.search(r"^(?!\w+, (?:sitting|standing): ).+\w+, (?:sitting|standing): ", text) for text in texts
    )


def test_a_sentence_of_another_state_is_noticed() -> None:
    """The check above can fail: what is said of one arrangement is not true of another."""
    case = made(places__0__seat__height="470", owns={"hardback_book": ["30", "40"]})
    found = plan(case, CATALOG, SAMPLE, 0, every_gain=True)
    option = next(o for o in found.stages[0].options if o.fix.id == "feet_book")
    assert faults(option, found.state_after) == []
    assert faults(option, found.state_before, found.state_after) != []


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
    texts = right_text(option, found.state_after), lacking_text(option, found.state_after)
    assert any("below your eyes" in text for text in texts if text)
    assert faults(option, found.state_after) == []


def test_a_monitor_that_stays_too_high_for_multifocal_glasses_is_not_told_as_right() -> None:
    case = made(
        person__eyewear="multifocal",
        devices__monitor={"top": "560", "height": "290"},
        tasks=[{"id": "work", "place": "den", "hours": "6", "spell": "50", "main": "monitor"}],
    )
    state = state_of(case)
    offers = offers_for(case, state, CATALOG, SAMPLE)
    option = next(o for o in offers.options() if o.fix.id == "screen_lower_multifocal")
    after = state_with(state, [option])
    assert right_text(option, after) is None
    assert "your eyes" in (lacking_text(option, after) or "")
    assert "looking down" not in why_text(state, after)


def test_a_turn_of_standing_says_what_to_change() -> None:
    fix = CATALOG.by_id["stand_by_turns"]
    assert fix.checks[0] == "turns"


def test_what_is_out_of_range_is_never_told_as_right() -> None:
    """Keys far above the elbows are told as lacking, with how far; no angle is asked of who has a tape."""
    case = made(places__0__desk__height="760", places__0__desk__underside="730")
    state = state_of(case)
    option = next(
        o for o in offers_for(case, state, CATALOG, SAMPLE).options() if o.fix.id == "keyboard_basic"
    )
    after = state_with(state, [option])
    lacking = lacking_text(option, after)
    assert lacking is not None
    assert "above the hanging elbows" in lacking
    assert "above the hanging elbows" not in (right_text(option, after) or "")
    assert "degrees" not in lacking


def test_what_a_later_stage_mends_is_told_so() -> None:
    """A pile that stays too low until a stand takes its place, and thighs that no stage gives room."""
    case = made(**GIVING_WAY)
    found = plan(case, CATALOG, SAMPLE, 6000, every_gain=True)
    told = {option.fix.id: " ".join(rights_of(found, option)) for option in found.stages[0].options}
    for name, words in (
        ("screen_books", "top edge of the picture"),
        ("seat_height", "free above the thighs"),
    ):
        option = next(o for o in found.stages[0].options if o.fix.id == name)
        assert words in (lacking_text(option, found.stages[0].state) or "")
        mended = words not in (lacking_text(option, found.state_after) or "")
        assert ("It comes right later: With what you buy." in told[name]) == mended
        assert ("as good as it gets" in told[name]) != mended
    assert "It comes right later" in told["screen_books"]
    assert "as good as it gets" in told["seat_height"]


@pytest.mark.parametrize(("offset", "within"), [("300", True), ("600", False)])
def test_reach_is_told_from_where_things_lie(offset: str, within: bool) -> None:
    case = made(devices__keyboard="separate", devices__mouse="separate", devices__mouse_offset=offset)
    state = state_of(case)
    fix = CATALOG.by_id["reach_layout"]
    option = OptionSpec("reach_layout", fix, ("task", "work"), None, (), (), None, {})
    right, lacking = right_text(option, state) or "", lacking_text(option, state) or ""
    assert ("You reach everything used often without stretching." in right) == within
    assert ("to the mouse or touchpad." in lacking) != within
    assert faults(option, state) == []
