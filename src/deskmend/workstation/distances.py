"""Where things lie, level: the body before the desk's edge, what stands on the desk, hands and their reach.

Everything is told from the desk's front edge: the body by how far its legs let it in, tools by where they lie
on the desk. So whatever keeps the body back, or pushes a tool away, reaches eyes and hands alike.

Legs that do not go under, for want of height, depth or width, keep the body back by what they need, and so do
armrests that meet the desk's edge; the greater of both counts. For the legs how deep
the seat is does not matter to that: whoever sits right back and whoever sits forward has the same knees at
the same edge.
"""

from __future__ import annotations

import numpy as np

from deskmend.workstation.graph import Array, Words, angle, derive, quantity, whole_mm
from deskmend.workstation.posture import PAPER_FROM_EDGE

__all__: list[str] = []

ASIDE = 35.0
"""Angle from straight ahead to what lies beside the middle [deg] (judgement)."""
SECOND_ASIDE = 33.5
"""The same of a second screen of which nobody tells [deg]: turn of the head while looking at one
(vr_two_screens_2023, published: median 33.47)."""
USUAL_LAPTOP = 500.0
"""Eye to the screen of a laptop typed on, level, where nobody measured it [mm] (judgement): its front then
lies at the desk's edge."""
KEYS_FORWARD = 300.0
"""Shoulder to keys, level, where the keys lie in the middle and the legs go under [mm] (judgement)."""
EYE_TO_EDGE = 493.0 - PAPER_FROM_EDGE
"""Upright eye to the front edge, level, where the legs go under [mm] (derived: the sheet of the published
trunk angles lies 493 from the eye, and its middle PAPER_FROM_EDGE from the edge)."""
KEYBOARD_DEPTH = 150.0
"""Depth that a keyboard takes in front of what stands behind it [mm] (judgement; plain ones are 120 to 160
deep)."""
TOUCHPAD_BEHIND_KEYS = 110.0
"""How much further than keys a touchpad lies with a keyboard before its laptop [mm] (judgement)."""
OTHER_SIDE = 320.0
"""Sideways way of the writing hand to paper on its other side [mm] (judgement)."""
MOUSE_BESIDE_PAPER = 150.0
"""Sideways way that paper on the mouse's side adds [mm] (judgement)."""
BEHIND_SCREEN = 30.0
"""Desk kept behind the picture of a screen [mm] (judgement)."""
SHEET_OVER = 30.0
"""How far a sheet may stand over an edge, or lie under what is next to it [mm]: its margin (judgement)."""
BEHIND_SHEET = 120.0
"""Desk kept on either side of the middle of a sheet [mm]: half the length of an A4 one (ISO 216) less
SHEET_OVER, to the nearest 10."""
PAPER_DEPTH = 2.0 * BEHIND_SHEET
"""Depth that a sheet takes in line, and pushes what lies behind it away by [mm]."""
WHOLE_SHEET = PAPER_DEPTH + 2.0 * SHEET_OVER
"""Depth of a sheet between keyboard and screen, with both margins free [mm]."""
FOOT_BEFORE = 42.0
"""How far a monitor's foot stands out before its picture [mm] (judgement)."""
CLEARS_KEYS = 60.0
"""How high a laptop has to stand for its front half to reach over the keyboard before it [mm] (judgement).
What carries it then stands under its back half."""
SHEET_WIDTH = 210.0
"""Width of a sheet [mm] (ISO 216)."""
LAPTOP_WIDTH = 330.0
"""Width of a laptop, which nobody is asked for [mm] (judgement)."""
SCREEN_SHAPE, SCREEN_SHAPE_SD = 16.0 / 9.0, 0.1
"""Width of a picture by its height [-], and the part of it that may be off (judgement)."""
KEYBOARD_WIDTH, SHORT_KEYBOARD = 440.0, 320.0
"""Width of a keyboard with number pad and without [mm] (judgement)."""
MOUSE_ROOM = 200.0
"""Width that a mouse takes beside the keys, to be moved in [mm] (practice, no source)."""
LEGS_GIVE = 50.0
"""Lack of height that takes legs wholly out from under a desk [mm] (judgement). Up to it they go part of the
way: a thigh is some 55 thicker at the trunk than at the knee (ANSUR II, thigh clearance less knee over hollow
of the knee), and feet set 20 to 25 degrees forward lower the knee by as much."""
LEGS_STEP = 10.0
"""Lack of height is told no finer than this [mm]."""
NARROW = (350.0, 450.0)
"""Width for the legs up to which they do not go under, and from which on wholly [mm] (judgement; standards
ask for 520)."""

ARMREST_SET_BACK = 100.0
"""Front of the armrests behind the front edge of the seat [mm] (practice: the usual build of chairs to work
in; nobody measures it here)."""
ARMREST_THICK = 40.0
"""Height of an armrest from its top to what is free under it [mm] (judgement)."""
ARMREST_GIVES = 20.0
"""Lack of height up to which rounded fronts go part of the way [mm] (judgement: lengths are read to 20)."""


# --- the body before the edge --------------------------------------------------------------------


@quantity("mm")
def legs_need(buttock_knee_length: Array, abdominal_depth: Array) -> Array:
    """Room the legs need ahead of the body: 362 in the mean (ANSUR II; standards ask for 440)."""
    return np.asarray(buttock_knee_length - abdominal_depth)


@quantity("-")
def legs_under(clearance: Array, desk_leg_width: Array) -> Array:
    """Part of their way that the legs go under the desk: 1 where they fit, 0 where not at all."""
    high = np.clip(1.0 + LEGS_STEP * np.rint(clearance / LEGS_STEP) / LEGS_GIVE, 0.0, 1.0)
    wide = np.clip((desk_leg_width - NARROW[0]) / (NARROW[1] - NARROW[0]), 0.0, 1.0)
    return np.asarray(high * wide)


@quantity("mm")
def legs_back(legs_need: Array, legs_under: Array, desk_leg_depth: Array) -> Array:
    """How much further from the edge the body sits for its legs than with room for them.

    Notes
    -----
    The legs go under by what they need or what depth there is, whichever is
    less, times the part of their way that height and width let them. Little
    room over the legs thus brings the body back little by little: at 5 mm too
    low by a tenth, from 50 mm on wholly. Geometry on ANSUR II, with the
    judgements named above.
    """
    under = np.minimum(legs_need, desk_leg_depth) * legs_under
    return np.maximum(legs_need - under, 0.0)


@quantity("mm")
def armrests_back(
    armrest_room: Array,
    armrest_top: Array,
    work_surface: Array,
    lap_rise: Array,
    desk_legs: Words,
    seat_armrests: Words,
    seat_depth: Array,
    abdominal_depth: Array,
) -> Array:
    """How much further from the edge the body sits for armrests that meet it.

    Notes
    -----
    Their front lies ARMREST_SET_BACK behind the seat's front edge, the belly
    its depth before the back. Armrests of unknown height, or so high that
    they go over the desk, hinder nobody. That a cushion behind the back
    changes nothing is a judgement, as in `body_back`.
    """
    meets = np.clip(-armrest_room / ARMREST_GIVES, 0.0, 1.0)
    over = armrest_top - ARMREST_THICK >= work_surface
    free = over | np.isnan(armrest_room) | ~np.isnan(lap_rise) | (np.asarray(desk_legs) == "lap")
    free = free | (np.asarray(seat_armrests) == "none")
    return np.where(free, 0.0, meets * np.maximum(seat_depth - ARMREST_SET_BACK - abdominal_depth, 0.0))


@quantity("mm", cut=True)
def stand_off(legs_back: Array, armrests_back: Array) -> Array:
    """How much further from the edge the body sits than usual, to the nearest 10 mm: chairs know no finer."""
    return 10.0 * whole_mm(np.maximum(legs_back, armrests_back) / 10.0)


# Body behind its usual place at the edge. What lies behind the back changes nothing: it brings the back
# forward, and the seat is put back by as much, or the knees are at the edge already (judgement).
derive("body_back", "mm", "stand_off", mode="sit")


@quantity("mm", name="body_back", mode="stand")
def body_back_standing(person_shoes: Array) -> Array:
    """None: feet that stand go under any desk."""
    return 0.0 * person_shoes


# --- what stands on the desk ---------------------------------------------------------------------


@quantity("deg", name="tool_angle", target="screen")
def screen_angle(
    task_middle: Words, keyboard: Words, task_screen: Words, laptop_angle: Array, monitor_angle: Array
) -> Array:
    """Turn to the screen: a laptop typed on goes aside with its keys, a screen alone can stay ahead."""
    own = np.where(np.asarray(task_screen) == "monitor", monitor_angle, laptop_angle)
    aside = (np.asarray(task_middle) == "paper") & (np.asarray(keyboard) != "separate")
    return np.where(aside, np.maximum(ASIDE, own), own)


derive("tool_angle", "deg", "second_angle", target="second")


@quantity("deg", name="tool_angle", target="paper")
def paper_angle(task_middle: Words) -> Array:
    """Turn to the paper: none where it lies in the middle or in line with the screen."""
    return np.where(np.asarray(task_middle) == "screen", ASIDE, 0.0)


derive("neck_rotation", "deg", "tool_angle")


@quantity("deg", name="trunk_twist", hand="keys")
def keys_twist(task_middle: Words) -> Array:
    """Turn of the trunk to the keys."""
    return np.where(np.asarray(task_middle) == "paper", ASIDE, 0.0)


@quantity("deg", name="trunk_twist", hand="mouse")
def mouse_twist(task_middle: Words, mouse: Words) -> Array:
    """Turn of the trunk to the pointer; a mouse stays at the hand, a touchpad goes with its keys."""
    aside = (np.asarray(task_middle) == "paper") & (np.asarray(mouse) != "separate")
    return np.where(aside, ASIDE, 0.0)


@quantity("deg", name="trunk_twist", hand="writing")
def writing_twist(task_middle: Words) -> Array:
    """Turn of the trunk to the paper written on."""
    return np.where(np.asarray(task_middle) == "screen", ASIDE, 0.0)


@quantity("mm")
def screen_pushed(task_middle: Words, look_paper: Array, keyboard: Words, task_screen: Words) -> Array:
    """What lies before the screen pushes it back: paper in line, or a keyboard in front of a laptop.

    Notes
    -----
    A laptop typed on goes aside of paper in the middle, with its keys, and no
    further back (`screen_angle`).
    """
    paper = paper_in_line(task_middle, look_paper, keyboard, task_screen)
    keys = (np.asarray(keyboard) == "separate") & (np.asarray(task_screen) == "laptop")
    between = paper & keys & (np.asarray(task_middle) == "both")
    sheet = np.where(between, WHOLE_SHEET, np.where(paper, PAPER_DEPTH, 0.0))
    return sheet + np.where(keys, KEYBOARD_DEPTH, 0.0)


@quantity("mm")
def paper_pushed(task_middle: Words, keyboard: Words) -> Array:
    """A keyboard before paper in line pushes it back, to right behind it from where sheets lie."""
    behind = (np.asarray(task_middle) == "both") & (np.asarray(keyboard) == "separate")
    return np.where(behind, KEYBOARD_DEPTH + 0.5 * WHOLE_SHEET - PAPER_FROM_EDGE, 0.0)


@quantity("mm", cut=True)
def screen_takes(
    task_screen: Words,
    laptop_depth: Array,
    screen_raise: Array,
    task_middle: Words,
    look_paper: Array,
    keyboard: Words,
) -> Array:
    """Desk that a screen takes before its picture: all of a laptop, half of one that stands high over keys.

    Notes
    -----
    Over a sheet it would hide what is read.
    """
    sheet = paper_in_line(task_middle, look_paper, keyboard, task_screen)
    half = (np.asarray(screen_raise) >= CLEARS_KEYS) & np.logical_not(sheet)
    laptop = np.where(half, 0.5 * laptop_depth, laptop_depth)
    monitor = np.where(np.asarray(task_screen) == "monitor", FOOT_BEFORE, 0.0)
    return np.where(np.asarray(task_screen) == "laptop", laptop, monitor)


@quantity("mm", cut=True)
def keyboard_takes(keyboard: Words, task_screen: Words, task_middle: Words, keyboard_drop: Array) -> Array:
    """Desk that a keyboard takes in line: none on a shelf under the top, nor beside paper in the middle."""
    there = (np.asarray(keyboard) == "separate") & (np.asarray(task_screen) != "none")
    return np.where(
        there & (np.asarray(task_middle) != "paper") & (keyboard_drop <= 0.0), KEYBOARD_DEPTH, 0.0
    )


@quantity("mm")
def paper_most(
    desk_depth: Array, task_middle: Words, keyboard: Words, task_screen: Words, screen_takes: Array
) -> Array:
    """Furthest from the edge that the middle of a sheet lies: on the desk, and before a screen in line."""
    between = (np.asarray(task_middle) == "both") & np.logical_not(typed_on(keyboard, task_screen))
    behind = np.where(between & (np.asarray(task_screen) != "none"), BEHIND_SCREEN + screen_takes, 0.0)
    return desk_depth - BEHIND_SHEET - behind


@quantity("mm", cut=True)
def paper_place(paper_distance: Array, paper_pushed: Array, paper_most: Array) -> Array:
    """Front edge to the middle of the sheet."""
    return pushed_back(paper_distance, paper_pushed, paper_most)


@quantity("mm", cut=True)
def line_before(
    task_middle: Words,
    look_paper: Array,
    keyboard: Words,
    task_screen: Words,
    keyboard_takes: Array,
    paper_place: Array,
) -> Array:
    """Desk taken by what lies before the screen in its line: the keyboard, or paper and all before it."""
    behind_keys = np.where(keyboard_takes > 0.0, keyboard_takes + WHOLE_SHEET, 0.0)
    sheet = np.maximum(paper_place + 0.5 * WHOLE_SHEET, behind_keys)
    in_line = paper_in_line(task_middle, look_paper, keyboard, task_screen)
    return np.where(in_line, sheet, keyboard_takes)


@quantity("mm", cut=True)
def screen_nearest(line_before: Array, screen_takes: Array) -> Array:
    """Least from the edge to the picture of a screen that is set anew, behind what lies before it."""
    return np.asarray(line_before + screen_takes)


@quantity("mm")
def depth_left(
    desk_depth: Array,
    screen_nearest: Array,
    task_screen: Words,
    task_middle: Words,
    look_paper: Array,
    keyboard: Words,
) -> Array:
    """Depth of the desk left by what stands one behind the other; below 0 it cannot stand so.

    Notes
    -----
    Keyboard, sheet and screen are counted where they lie in one line, with
    BEHIND_SCREEN behind the picture; the margin of a sheet may lie under the
    screen. A sheet alone fits any desk.
    """
    margin = np.where(paper_in_line(task_middle, look_paper, keyboard, task_screen), SHEET_OVER, 0.0)
    needed = np.where(np.asarray(task_screen) == "none", 0.0, BEHIND_SCREEN + screen_nearest - margin)
    return np.asarray(desk_depth - needed)


@quantity("mm")
def width_left(
    desk_width: Array,
    task_middle: Words,
    task_screen: Words,
    keyboard: Words,
    keyboard_number_pad: Words,
    keyboard_drop: Array,
    mouse: Words,
    look_paper: Array,
) -> Array:
    """Width of the desk left by what lies side by side; below 0 it cannot lie so.

    Notes
    -----
    Keys, or the laptop they are of, the mouse, and paper unless it lies in line;
    a sheet may stand over by SHEET_OVER. What is on a shelf under the top takes
    nothing. A second screen is counted apart, see `screens_left`.
    """
    screen, apart = np.asarray(task_screen) != "none", np.asarray(keyboard) == "separate"
    board = np.where(np.asarray(keyboard_number_pad) == "no", SHORT_KEYBOARD, KEYBOARD_WIDTH)
    on_top = np.asarray(keyboard_drop) <= 0.0
    keys = np.where(apart, np.where(on_top, board, 0.0), LAPTOP_WIDTH)
    pointer = np.where((np.asarray(mouse) == "separate") & on_top, MOUSE_ROOM, 0.0)
    paper = (np.asarray(look_paper) > 0.0) & (np.asarray(task_middle) != "both")
    needed = np.where(screen, keys + pointer, 0.0) + np.where(paper, SHEET_WIDTH - SHEET_OVER, 0.0)
    laptop = np.where(np.asarray(task_screen) == "laptop", LAPTOP_WIDTH, 0.0)
    return np.asarray(desk_width - np.maximum(needed, laptop))


@quantity("mm")
def second_takes(second_kind: Words, second_height: Array) -> Array:
    """Width of a second screen, from the height of its picture; an estimate, told with SCREEN_SHAPE_SD."""
    kind = np.asarray(second_kind)
    picture = np.where(kind == "laptop", LAPTOP_WIDTH, SCREEN_SHAPE * second_height)
    return np.where(kind == "none", 0.0, np.rint(picture))


@quantity("mm")
def screens_left(
    desk_width: Array,
    task_screen: Words,
    monitor_height: Array,
    second_takes: Array,
    second_used: Words,
    look_second: Array,
) -> Array:
    """Width of the desk left by two screens side by side; no rule asks for it.

    Notes
    -----
    Widths of screens are not asked for, and the foot of one that hangs over the
    side of a desk may stand well: so what lacks here is only told.
    """
    monitor = np.asarray(task_screen) == "monitor"
    first = np.where(monitor, np.rint(SCREEN_SHAPE * monitor_height), LAPTOP_WIDTH)
    first = np.where(np.asarray(task_screen) == "none", 0.0, first)
    both = (np.asarray(second_used) != "no") & (np.asarray(look_second) > 0.0)
    return np.asarray(desk_width - np.where(both, first + second_takes, 0.0))


def paper_in_line(task_middle: Words, look_paper: Array, keyboard: Words, task_screen: Words) -> Array:
    """Whether paper lies before the screen: a laptop typed on goes aside of paper in the middle."""
    beside = typed_on(keyboard, task_screen) & (np.asarray(task_middle) == "paper")
    return np.asarray((np.asarray(task_middle) != "screen") & (np.asarray(look_paper) > 0) & ~beside)


def typed_on(keyboard: Words, task_screen: Words) -> Array:
    """Whether keys and screen are those of one laptop, which lie where it lies."""
    return np.asarray((np.asarray(keyboard) != "separate") & (np.asarray(task_screen) == "laptop"))


def pushed_back(place: Array, pushed: Array, most: Array) -> Array:
    """Where a thing lies when pushed back, as far as the desk holds it; what lies further already stays."""
    return np.maximum(place, np.minimum(place + pushed, most))


def unpushed(place: float, pushed: float, most: float) -> float:
    """Where a thing would lie that lies here for being pushed back; see `pushed_back` [mm]."""
    return place if place > most else place - pushed


@quantity("mm", name="target_distance", target="screen", cut=True)
def screen_distance(
    task_viewing_distance: Array,
    task_screen_set: Words,
    screen_pushed: Array,
    screen_nearest: Array,
    desk_depth: Array,
    body_back: Array,
) -> Array:
    """Eye to screen, level: by where it stands on the desk, or as far from the eye as it was set.

    Notes
    -----
    One that is set so stands no nearer than what it needs and what lies before
    it let it (`screen_nearest`), and not over the far edge.
    """
    from_edge, most = task_viewing_distance - EYE_TO_EDGE, desk_depth - BEHIND_SCREEN
    by_eye = np.minimum(np.maximum(from_edge - body_back, screen_nearest), most)
    set_so = np.asarray(task_screen_set) == "yes"
    return EYE_TO_EDGE + np.where(set_so, by_eye, pushed_back(from_edge, screen_pushed, most)) + body_back


@quantity("mm", name="target_distance", target="second", cut=True)
def second_far(task_viewing_distance: Array, second_distance: Array, body_back: Array) -> Array:
    """Eye to second screen, level; as far as the first where nobody tells."""
    return np.where(np.isnan(second_distance), task_viewing_distance, second_distance) + body_back


@quantity("mm", name="target_distance", target="paper", cut=True)
def paper_far(paper_place: Array, body_back: Array) -> Array:
    """Eye to the middle of the paper, level."""
    return np.asarray(EYE_TO_EDGE + paper_place + body_back)


# --- hands and their reach -----------------------------------------------------------------------


@quantity("mm")
def own_keys_further(
    keyboard: Words,
    task_screen: Words,
    task_middle: Words,
    task_viewing_distance: Array,
    task_screen_set: Words,
    screen_pushed: Array,
    desk_depth: Array,
) -> Array:
    """How much further from the edge than usual a laptop's own keys lie: with its screen, where that is read.

    Notes
    -----
    Its front lies at the edge where its screen is USUAL_LAPTOP from the eye. One
    that is typed on cannot be set otherwise: it stays at the hands. Keys under
    another screen are pushed away by paper in line alone.
    """
    place = pushed_back(task_viewing_distance - EYE_TO_EDGE, screen_pushed, desk_depth - BEHIND_SCREEN)
    screen = np.where(np.asarray(task_screen_set) == "yes", 0.0, place + EYE_TO_EDGE - USUAL_LAPTOP)
    in_line = np.where(np.asarray(task_middle) == "both", PAPER_DEPTH, 0.0)
    own = np.where(typed_on(keyboard, task_screen), screen, in_line)
    return np.where(np.asarray(keyboard) == "separate", 0.0, own)


@quantity("mm", name="reach_forward", hand="keys")
def keys_forward(own_keys_further: Array, body_back: Array) -> Array:
    """Upright shoulder to keys, level."""
    return KEYS_FORWARD + own_keys_further + body_back


@quantity("mm", name="reach_forward", hand="mouse")
def mouse_forward(
    mouse: Words, keyboard: Words, task_middle: Words, own_keys_further: Array, body_back: Array
) -> Array:
    """Upright shoulder to mouse or touchpad, level; a touchpad goes with its laptop."""
    paper = np.where(np.asarray(task_middle) == "both", PAPER_DEPTH, 0.0)
    behind = np.where(np.asarray(keyboard) == "separate", TOUCHPAD_BEHIND_KEYS + paper, own_keys_further)
    return KEYS_FORWARD + np.where(np.asarray(mouse) != "separate", behind, 0.0) + body_back


@quantity("mm", name="reach_forward", hand="writing")
def writing_forward(paper_pushed: Array, body_back: Array) -> Array:
    """Upright shoulder to the paper written on, level."""
    return KEYS_FORWARD + paper_pushed + body_back


@quantity("mm", name="reach_sideways", hand="keys")
def keys_sideways(person_shoes: Array) -> Array:
    """None: the keys lie where the trunk turns to."""
    return 0.0 * person_shoes


@quantity("mm", name="reach_sideways", hand="mouse")
def mouse_sideways(
    mouse: Words,
    mouse_offset: Array,
    task_middle: Words,
    paper_side: Words,
    person_mouse_hand: Words,
    look_paper: Array,
) -> Array:
    """Body to mouse, sideways; paper on the mouse's side pushes it out."""
    crowded = (
        (np.asarray(task_middle) == "screen")
        & (np.asarray(paper_side) == np.asarray(person_mouse_hand))
        & (np.asarray(look_paper) > 0)
    )
    beside = mouse_offset + np.where(crowded, MOUSE_BESIDE_PAPER, 0.0)
    return np.where(np.asarray(mouse) == "separate", beside, 0.0)


@quantity("mm", name="reach_sideways", hand="writing")
def writing_sideways(task_middle: Words, paper_side: Words, person_writing_hand: Words) -> Array:
    """Across the body to paper on the side of the hand that does not write."""
    hand = np.asarray(person_writing_hand)
    across = (
        (np.asarray(task_middle) == "screen")
        & (np.asarray(paper_side) != hand)
        & ((hand == "left") | (hand == "right"))
    )
    return np.where(across, OTHER_SIDE, 0.0)


NORMAL_REACH, MOST_REACH = 380.0, 508.0
"""Normal and maximum reach, level, at the height of the elbow, for an arm of middle length [mm]
(sanders_mccormick, published)."""
MIDDLE_FOREARM_HAND = 460.0
"""Elbow to fingertip for which the reach limits stand, mean of both sexes [mm] (ANSUR II, published)."""
MIDDLE_UPPER_ARM = 350.0
"""Shoulder to elbow of that arm [mm] (ANSUR II, published)."""
STRETCH_AT_MOST = (MOST_REACH - NORMAL_REACH) / (
    ((MIDDLE_UPPER_ARM + NORMAL_REACH) ** 2 - MIDDLE_UPPER_ARM**2) ** 0.5 - NORMAL_REACH
)
"""Part of the way from elbow at the side to straight arm at which the maximum reach lies [-] (derived)."""
REACH_BEFORE_LEAN = 0.5 * (NORMAL_REACH + MOST_REACH)
"""Reach from which on the trunk leans: 444 for the middle arm [mm]. People lean before the arm is out
(mark_1997, published, direction only); half way to the maximum is a judgement."""
HIP_ABOVE_SEAT = 85.0
"""Hip joint about which the trunk leans, above the seat [mm] (judgement)."""


def _arm(height: Array, upper_arm: Array, forearm_hand: Array) -> tuple[Array, Array]:
    """Level reach, elbow at the side and arm straight, to what lies so high over the elbow [mm]."""
    lower = NORMAL_REACH * forearm_hand / MIDDLE_FOREARM_HAND
    drop = upper_arm - height
    near = np.sqrt(np.maximum(lower**2 - height**2, 0.0))
    return near, np.sqrt(np.maximum((upper_arm + lower) ** 2 - drop**2, near**2))


@quantity("deg")
def reach_lean(
    stand_off: Array,
    reach_forward: Array,
    outside_shoulder: Array,
    forearm_hand_length: Array,
    sitting_shoulder_height: Array,
) -> Array:
    """Trunk forward of upright to bring the hand to its work, where the legs keep the body back.

    Notes
    -----
    The arm goes out first, to REACH_BEFORE_LEAN scaled to its length; the
    trunk, turning about the hip, makes up the rest:
    ``sin t = (forward - reach) / (shoulder over hip)``. Source: geometry on
    ANSUR II and sanders_mccormick. The drop of the arm to low keys is left to
    :func:`reach`: it asks for more, and leaning, which lowers the shoulder, for
    less. For what is only pushed back on a desk that the legs go under, the arm
    goes out and is scored for it (judgement).
    """
    reached = REACH_BEFORE_LEAN * forearm_hand_length / MIDDLE_FOREARM_HAND
    level = np.sqrt(np.maximum(reached**2 - outside_shoulder**2, KEYS_FORWARD**2))
    lean = np.arcsin(np.clip((reach_forward - level) / (sitting_shoulder_height - HIP_ABOVE_SEAT), 0.0, 1.0))
    return np.where(stand_off > 0.0, angle(np.degrees(lean)), 0.0)


@quantity("mm", cut=True)
def hand_level(hand_gap: Array) -> Array:
    """Height of the hands over the elbow to the nearest 50 mm: fine enough for how far an arm reaches."""
    return 50.0 * whole_mm(hand_gap / 50.0)


@quantity("mm")
def reach(
    reach_forward: Array,
    outside_shoulder: Array,
    reach_lean: Array,
    hand_level: Array,
    shoulder_elbow_length: Array,
    forearm_hand_length: Array,
    sitting_shoulder_height: Array,
) -> Array:
    """Shoulder to what the hand works on once the trunk leans, as for a middle arm at elbow height.

    Notes
    -----
    380 with the elbow at the side and 508 at the maximum, whatever the height
    of the hand and the length of the arm; between them and beyond in proportion.
    """
    lean = np.radians(reach_lean)
    trunk = sitting_shoulder_height - HIP_ABOVE_SEAT
    gap = hand_level + trunk * (1.0 - np.cos(lean))
    level = np.hypot(np.maximum(reach_forward - trunk * np.sin(lean), 0.0), outside_shoulder)
    near, far = _arm(gap, shoulder_elbow_length, forearm_hand_length)
    stretch = (level - near) / np.maximum(STRETCH_AT_MOST * (far - near), 1.0)
    out = NORMAL_REACH + (MOST_REACH - NORMAL_REACH) * stretch
    return whole_mm(np.where(level <= near, NORMAL_REACH * level / np.maximum(near, 1.0), out))


def _lean_for(hands_share: Array, reach_lean: Array) -> Array:
    return np.where(np.asarray(hands_share) > 0.0, reach_lean, 0.0)


@quantity("deg", asks={"hand": "keys"})
def typing_lean(hands_keys: Array, reach_lean: Array) -> Array:
    """Trunk forward of upright to type; 0 for who does not."""
    return _lean_for(hands_keys, reach_lean)


@quantity("deg", asks={"hand": "mouse"})
def pointing_lean(hands_mouse: Array, hands_keys: Array, reach_lean: Array) -> Array:
    """Trunk forward of upright to point, for who types nothing; others reach for the pointer with one arm."""
    return np.where(np.asarray(hands_keys) > 0.0, 0.0, _lean_for(hands_mouse, reach_lean))


@quantity("deg", asks={"hand": "writing"})
def writing_lean(hands_writing: Array, reach_lean: Array) -> Array:
    """Trunk forward of upright to write; 0 for who does not."""
    return _lean_for(hands_writing, reach_lean)


@quantity("deg", name="hands_lean", target=("screen", "second"), cut=True)
def screen_hands_lean(typing_lean: Array, pointing_lean: Array) -> Array:
    """Lean of the trunk for the hands while one looks at a screen: what the keys ask, or the pointer."""
    return np.maximum(typing_lean, pointing_lean)


# over paper it is the hand that writes; who reads only leans as far as the eyes ask
derive("hands_lean", "deg", "writing_lean", cut=True, target="paper")
