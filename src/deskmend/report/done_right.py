"""How to see that a step is right: said of the arrangement it stands in, from that arrangement's quantities.

A fix names what it is looked at by (`checks`). Each is a function that reads quantities of a state and says
what they are there, so that a sentence never asks for what the plan itself does not make, and whether that is
within its range: what is not is told as lacking, never as right. Lengths are told, since a tape is at hand;
angles are the assessor's. What no tape tells, as whether a thing slides, stands in the catalog (`right`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, partial

from deskmend.intake.catalog_records import FixCheck
from deskmend.language import shown_length, tr
from deskmend.planning.model.offers import OptionSpec
from deskmend.risk.severity import curves, seen_in
from deskmend.workstation.graph import Evaluation
from deskmend.workstation.state import PERSON, State

__all__ = ["Look", "looks_of"]

LEVEL = 10.0
"""Heights [mm] that count as the same: a tape is read no finer over clothes (judgement)."""
LEVEL_THIGHS = 2.0
"""Rise of the thighs [deg] that counts as none: 15 mm over a thigh (judgement)."""
HANGING = 20.0
"""Upper arm from hanging [deg] up to which it counts as hanging, as the first band of RULA."""


@dataclass(frozen=True)
class Look:
    """One thing to look at of a step, whether it is within its range there, and if that names the task."""

    text: str
    right: bool
    labelled: bool = False


def looks_of(option: OptionSpec, state: State) -> dict[FixCheck, list[Look]]:
    """What is to be seen of a step in a state, by what it is looked at by.

    What is told of one task alone, by its name, comes last: what follows a name is read as of that task.
    """
    told = {check: _told(check, option, state) for check in option.fix.checks}
    last = {check: any(look.labelled for look in looks) for check, looks in told.items()}
    return {check: told[check] for check in sorted(told, key=last.__getitem__)}


def _free_of(curve: str) -> float:
    """End of a severity curve up to which nothing is scored [mm] [deg]."""
    return curves()[curve].zero_at


@dataclass(frozen=True)
class _Seen:
    """One task at one place, in one way of working, as a state has it."""

    state: State
    task: str
    place: str
    mode: str

    @cached_property
    def _evaluation(self) -> Evaluation[float]:
        return seen_in(self.state, self.task)

    def __call__(self, name: str, **roles: str) -> float:
        """Value of a quantity [mm] [deg] [-]."""
        return float(self._evaluation(name, mode=self.mode, **roles))

    @property
    def multifocal(self) -> bool:
        return self.state.values[PERSON, "person.eyewear"] == "multifocal"


Sayer = Callable[[_Seen], list[Look]]


def _told(check: FixCheck, option: OptionSpec, state: State) -> list[Look]:
    """What is to be seen wherever a step counts; where it differs, each with its task or place."""
    found: dict[tuple[Look, ...], _Seen] = {}
    for seen in _occasions(option, state):
        if ONLY_IN.get(check, seen.mode) == seen.mode and (signs := SAYERS[check](seen)):
            found.setdefault(tuple(signs), seen)
    if len(found) <= 1:
        return [sign for signs in found for sign in signs]
    out = []
    for several, first in found.items():
        standing = tr("standing") if first.mode == "stand" else tr("sitting")
        for right in (True, False):
            if text := " ".join(sign.text for sign in several if sign.right == right):
                told = tr("{task}, {standing}: {text}", task=first.task, standing=standing, text=text)
                out.append(Look(told, right, labelled=True))
    return out


def _occasions(option: OptionSpec, state: State) -> Iterator[_Seen]:
    level, name = option.owner
    for task, place in state.place_of.items():
        if (level == "task" and task != name) or (level == "place" and place != name):
            continue
        standing = float(seen_in(state, task)("stand_share"))
        if standing < 1.0:
            yield _Seen(state, task, place, "sit")
        if standing > 0.0:
            yield _Seen(state, task, place, "stand")


def _length(value: float) -> str:
    return shown_length(round(abs(value)))


# --- what is looked at ------------------------------------------------------------------------------------


def _feet(seen: _Seen) -> list[Look]:
    if seen("soles_down"):
        return [
            Look(
                tr("Both soles rest wholly, and the seat's front edge does not press into the thighs."), True
            )
        ]
    told = tr(
        "The seat's front edge stays {gap} above the hollow of the knees: the soles do not rest wholly.",
        gap=_length(seen("leg_gap")),
    )
    return [Look(told, False)]


def _knees(seen: _Seen) -> list[Look]:
    rise = seen("thigh_rise")
    if rise <= LEVEL_THIGHS:
        return [Look(tr("The knees are not higher than the hips."), True)]
    higher = seen("buttock_popliteal_length") * math.sin(math.radians(rise))
    open_enough = seen("hip_angle") >= _free_of("hip_angle")
    return [Look(tr("The knees are {gap} higher than the hips.", gap=_length(higher)), open_enough)]


def _thighs(seen: _Seen) -> list[Look]:
    free = seen("clearance")
    if free >= _free_of("clearance"):
        return [Look(tr("The thighs move freely: {room} is free above them.", room=_length(free)), True)]
    if free >= 0:
        return [Look(tr("Only {room} is free above the thighs.", room=_length(free)), False)]
    return [Look(tr("The legs do not go under the desk: {room} is lacking.", room=_length(free)), False)]


DESK = {
    "level": "The desk top is as high as the hanging elbows.",
    "above": "The desk top is {gap} above the hanging elbows.",
    "below": "The desk top is {gap} below the hanging elbows.",
}
KEYS = {
    "level": "The keys are as high as the hanging elbows.",
    "above": "The keys are {gap} above the hanging elbows.",
    "below": "The keys are {gap} below the hanging elbows.",
}
TOP_EDGE = {
    "screen": {
        "level": "The top edge of the picture is as high as your eyes.",
        "above": "The top edge of the picture is {gap} above your eyes.",
        "below": "The top edge of the picture is {gap} below your eyes.",
    },
    "second": {
        "level": "The top edge of the second picture is as high as your eyes.",
        "above": "The top edge of the second picture is {gap} above your eyes.",
        "below": "The top edge of the second picture is {gap} below your eyes.",
    },
}
ARM_PADS = {
    "level": "The arm pads are as high as the hanging elbows.",
    "above": "The arm pads are {gap} above the hanging elbows.",
    "below": "The arm pads are {gap} below the hanging elbows.",
}


def _side(gap: float) -> str:
    return "level" if abs(gap) <= LEVEL else "above" if gap > 0 else "below"


def _desk(seen: _Seen) -> list[Look]:
    gap = seen("desk_gap")
    hands = [hand for hand in ("keys", "mouse", "writing") if seen("hand_share", hand=hand) > 0]
    suits = _side(gap) == "level" or not any(seen("hand_gap_severity", hand=hand) for hand in hands)
    return [Look(tr(DESK[_side(gap)], gap=_length(gap)), suits)]


def _armrests(seen: _Seen) -> list[Look]:
    gap = seen("armrest_gap")
    if not math.isfinite(gap):
        return []
    return [Look(tr(ARM_PADS[_side(gap)], gap=_length(gap)), _side(gap) == "level")]


def _keys(seen: _Seen) -> list[Look]:
    if seen("hand_share", hand="keys") <= 0:
        return []
    gap, bend = seen("hand_gap", hand="keys"), seen("wrist_extension", hand="keys")
    suits = _side(gap) == "level" or not seen("hand_gap_severity", hand="keys")
    height = Look(tr(KEYS[_side(gap)], gap=_length(gap)), suits)
    if abs(bend) <= _free_of("wrist_extension"):
        return [height, Look(tr("The wrists are straight."), True)]
    bent = tr("The wrists bend back.") if bend > 0 else tr("The wrists bend down.")
    return [height, Look(bent, False)]


def _mouse(seen: _Seen) -> list[Look]:
    if seen("hand_share", hand="mouse") <= 0:
        return []
    if seen("upper_arm_elevation", hand="mouse") <= HANGING:
        return [Look(tr("The upper arm hangs beside the body while the hand is on the mouse."), True)]
    if not seen("hand_gap_severity", hand="mouse") and not seen("reach_severity", hand="mouse"):
        return []
    told = tr("With the hand on the mouse the upper arm does not hang beside the body.")
    return [Look(told, False)]


def _picture(seen: _Seen, target: str) -> list[Look]:
    """Where a picture stands, in mm as one measures it; reading glasses set in below want it low."""
    if seen("look_share", target=target) <= 0:
        return []
    over = seen("target_top_height", target=target) - seen("eye_height")
    top, middle = seen("gaze_top", target=target), seen("gaze_centre", target=target)
    below = seen.multifocal and middle >= _free_of("gaze_high_multifocal")
    low = middle > _free_of("gaze_low_multifocal" if seen.multifocal else "gaze_low")
    high = not below if seen.multifocal else top < _free_of("gaze_top_up")
    told = [Look(tr(TOP_EDGE[target][_side(over)], gap=_length(over)), not (low or high))]
    if below and not low and round(top) > 0:
        told.append(Look(tr("You read the top line through the lower part of the glasses."), True))
    return told


def _ahead(seen: _Seen) -> list[Look]:
    """What is looked at most, straight ahead or aside."""
    shares = {target: seen("look_share", target=target) for target in ("screen", "second", "paper")}
    target = max(shares, key=lambda name: shares[name])
    turn = seen("neck_rotation", target=target)
    thing = tr(THINGS[target])
    if turn <= _free_of("neck_rotation"):
        typing = seen("hand_share", hand="keys") > 0
        if target != "paper" and typing and seen("trunk_twist", hand="keys") > _free_of("trunk_twist"):
            # paper lies in the middle: the screen is ahead once the body has turned to it
            return [Look(tr("You turn to {thing} with the body, not with the head.", thing=thing), True)]
        return [Look(tr("You look at {thing} straight ahead.", thing=thing), True)]
    return [Look(tr("The head is turned to {thing}.", thing=thing), False)]


THINGS = {"screen": "the screen", "second": "the second screen", "paper": "the paper"}


def _reading(seen: _Seen, target: str) -> list[Look]:
    """Whether one leans to read."""
    if seen("look_share", target=target) <= 0:
        return []
    lean, thing = seen("trunk_inclination", target=target), tr(THINGS[target])
    if lean > _free_of("trunk_inclination"):
        return [Look(tr("You lean forward to read {thing}.", thing=thing), False)]
    if seen.mode == "stand":
        return [Look(tr("You read {thing} standing upright.", thing=thing), True)]
    return [Look(tr("You read {thing} without leaning forward.", thing=thing), True)]


def _behind_knee(seen: _Seen) -> list[Look]:
    free = seen("seat_clearance")
    if free >= _free_of("seat_clearance"):
        told = tr(
            "{room} is free between the seat's front edge and the hollow of the knee.", room=_length(free)
        )
        return [Look(told, True)]
    told = tr(
        "Only {room} is free between the seat's front edge and the hollow of the knee.",
        room=_length(max(free, 0.0)),
    )
    return [Look(told, False)]


def _turns(seen: _Seen) -> list[Look]:
    """What to change for a turn of standing, from how far the work then lies under the elbows."""
    hands = [hand for hand in ("keys", "mouse", "writing") if seen("hand_share", hand=hand) > 0]
    gaps = [seen("hand_gap", hand=hand) for hand in hands]
    under = -min(gaps, default=0.0)
    if round(under) > LEVEL:
        told = tr(
            "The work lies {gap} below the elbows: put something firm, at most that thick, under it for the "
            "turn, and take it away again to sit.",
            gap=_length(under),
        )
    elif max(gaps, default=0.0) <= LEVEL:
        told = tr("The work is as high as the elbows: nothing is moved for the turn.")
    else:
        told = tr("The work is not below the elbows: nothing is moved for the turn.")
    return [Look(told, True)]


def _near(seen: _Seen) -> list[Look]:
    """Whether what the hands work on lies within what is reached with the elbow at the side."""
    reaches = {hand: seen("reach", hand=hand) for hand in REACHED if seen("hand_share", hand=hand) > 0}
    if not reaches:
        return []
    hand = max(reaches, key=lambda name: reaches[name])
    if reaches[hand] <= _free_of("reach"):
        return [Look(tr("You reach everything used often without stretching."), True)]
    far, thing = _length(reaches[hand]), tr(REACHED[hand])
    return [Look(tr("You reach out {far} to {thing}.", far=far, thing=thing), False)]


REACHED = {"keys": "the keys", "mouse": "the mouse or touchpad", "writing": "the paper you write on"}


SAYERS: Mapping[FixCheck, Sayer] = {
    "feet": _feet,
    "knees": _knees,
    "thighs": _thighs,
    "desk": _desk,
    "armrests": _armrests,
    "keys": _keys,
    "mouse": _mouse,
    "screen": partial(_picture, target="screen"),
    "second": partial(_picture, target="second"),
    "ahead": _ahead,
    "paper": partial(_reading, target="paper"),
    "text": partial(_reading, target="screen"),
    "behind_knee": _behind_knee,
    "turns": _turns,
    "near": _near,
}

ONLY_IN: Mapping[FixCheck, str] = {
    "feet": "sit",
    "knees": "sit",
    "thighs": "sit",
    "armrests": "sit",
    "behind_knee": "sit",
    "turns": "stand",
}
"""What is looked at in one way of working alone."""
