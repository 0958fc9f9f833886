"""Sitting and standing posture: heights, gaps and angles, one pure function each.

Parameter names are the names of what a function needs; numpy arrays broadcast.
Heights are in mm above the floor, angles in degrees. Results that hang on soft
tissue are kept to the whole millimetre and angles to a millionth of a degree,
so that every engine and machine sees the same number.
"""

from __future__ import annotations

import numpy as np

from deskmend.workstation.graph import Array, Words, angle, quantity, whole_mm

__all__: list[str] = []

SIT_BONES_ALONG_SEAT = 0.7
"""Place of the sit bones from the front edge, as part of the seat depth [-] (judgement)."""
SLUMP_WITHOUT_SUPPORT = 40.0
"""Eye height lost without any back support [mm]; relaxed sitting lowers the eye some 40 (from memory)."""
SLUMP_PER_CLOSED_HIP_DEGREE = 1.0
"""Eye height lost per degree that the hip closes under 90 [mm/deg] (judgement)."""
SLUMP_SLIDING = 10.0
"""Eye height lost by one who slides forward [mm] (judgement)."""
UNTIED_ROLL = 0.7
"""Part of a tied roll's worth that an untied one keeps over the weeks [-] (judgement)."""
BACK_LACK = {"none": 1.0, "flat": 0.6, "shaped": 0.6, "unknown": 0.6}
"""Support lacking with a plain back to lean on: 1 none [-] (judgement)."""
LORDOSIS_SITTING_TAKES = 43.0
"""Hollow of the low back lost by sitting without support [deg] (derived): 63 standing (de_carvalho_2010, from
memory) less 20 sitting (de_carvalho_2012, published)."""
LORDOSIS_PER_MM = 0.25
"""Hollow that a bulge in the small of the back gives back [deg/mm]: 20, 25 and 30 degrees at 0, 20 and 40 mm
(de_carvalho_2012, published)."""
LUMBAR_WORKS_TO = 40.0
"""Bulge beyond which no more is known to come back [mm] (de_carvalho_2012 went no further)."""
SHOULDER_DROP_IN_SLUMP = 0.5
"""Part of the eye's drop in slumping that the elbow follows [-] (judgement)."""
SHEET_LENGTH = 297.0
"""Length of an A4 sheet [mm] (ISO 216)."""
PAPER_FROM_EDGE = 250.0
"""Middle of the paper from the front edge: where nobody measured it, and where a whole desk tilts [mm]
(judgement)."""
OVER_A_LAP = 25.0
"""Free height that counts where the work lies on the lap [mm]: as much as takes nothing (judgement)."""
FEET_TOUCH = 10.0
"""Gap up to which soles rest wholly on what is under them [mm] (judgement: no study prints one)."""
STRETCH = 2.0
"""Millimetres that one under soles which a pile, bar or ring does not reach counts for [-] (judgement)."""
FEET_HANG_AT_LEAST = 75.0
"""Gap under feet that rest on nothing though they could reach the floor [mm] (judgement)."""


def lookup(words: Words, table: dict[str, float]) -> Array:
    """Number for each word of an array."""
    out = np.full(np.shape(words), np.nan)
    for word, value in table.items():
        out = np.where(np.asarray(words) == word, value, out)
    return out


def _sin(degrees: Array) -> Array:
    return np.sin(np.radians(degrees))


def sheet_rise(length: Array) -> Array:
    """Rise of a sloped sheet to the nearest 5 mm: binders sag and stacks of paper vary by more [mm]."""
    return 5.0 * whole_mm(length / 5.0)


# --- seat, feet and legs -------------------------------------------------------------------------


@quantity("mm")
def seat_front(seat_height: Array, seat_pad: Array) -> Array:
    """Loaded front edge of the padded seat above the floor."""
    return np.asarray(seat_height + seat_pad)


@quantity("mm")
def seat_top(seat_front: Array, seat_depth: Array, seat_slope: Array) -> Array:
    """Seat under the sit bones above the floor, lower than the front edge on a seat that slopes back."""
    return whole_mm(seat_front - SIT_BONES_ALONG_SEAT * seat_depth * np.tan(np.radians(seat_slope)))


@quantity("mm")
def foot_surface(feet_on: Words, feet_height: Array, seat_foot_ring: Array, desk_foot_bar: Array) -> Array:
    """What the feet rest on, above the floor; a foot ring goes with its seat, a bar with its desk."""
    word = np.asarray(feet_on)
    own = np.where(word == "foot_bar", desk_foot_bar, feet_height)
    return np.where(word == "foot_ring", seat_foot_ring, own)


@quantity("mm", cut=True)
def leg_gap(
    seat_front: Array,
    popliteal_height: Array,
    person_shoes: Array,
    foot_surface: Array,
    feet_rest: Words,
    feet_on: Words,
) -> Array:
    """Front edge above the hollow of the knee: over 0 the feet hang, under 0 the knees are above the hips.

    Notes
    -----
    A pile, bar or ring carries only soles that it touches. Beyond that each
    millimetre counts `STRETCH` times, since only the tips of the toes reach it,
    until the feet hang as without it (judgement). The floor is everywhere, so
    toes reach it a little longer, and how much that matters is left to the
    curve.
    """
    gap = seat_front - (popliteal_height + person_shoes) - foot_surface
    hanging = np.maximum(gap, FEET_HANG_AT_LEAST)
    stretched = np.minimum(FEET_TOUCH + STRETCH * (gap - FEET_TOUCH), hanging)
    missed = (np.asarray(feet_on) != "floor") & (gap > FEET_TOUCH)
    gap = np.where(missed, stretched, gap)
    return np.where(np.asarray(feet_rest) == "no", hanging, gap)


@quantity("-")
def soles_down(leg_gap: Array) -> Array:
    """1 where the soles rest wholly on something, 0 where they hang or only their tips touch."""
    return np.where(leg_gap <= FEET_TOUCH, 1.0, 0.0)


@quantity("deg")
def thigh_rise(leg_gap: Array, buttock_popliteal_length: Array, seat_slope: Array) -> Array:
    """Thigh above the horizontal; the seat pan stops it from hanging lower."""
    knee_up = np.degrees(np.arcsin(np.clip(-leg_gap / buttock_popliteal_length, -1.0, 1.0)))
    return angle(np.maximum(seat_slope, knee_up))


@quantity("deg")
def recline_used(seat_recline: Array, seat_back: Words) -> Array:
    """Trunk behind the vertical where there is a back to lean on."""
    return np.where(np.asarray(seat_back) == "none", 0.0, seat_recline)


@quantity("deg")
def hip_angle(recline_used: Array, thigh_rise: Array) -> Array:
    """Angle between trunk and thigh; under 90 the pelvis rolls back."""
    return angle(90.0 + recline_used - thigh_rise)


@quantity("mm")
def pelvis_roll(hip_angle: Array) -> Array:
    """Eye height lost where a closed hip rolls the pelvis back."""
    return whole_mm(SLUMP_PER_CLOSED_HIP_DEGREE * np.maximum(0.0, 90.0 - hip_angle))


@quantity("-")
def back_lack(seat_back: Words, seat_lumbar_depth: Array, back_roll: Array, back_tied: Words) -> Array:
    """Support lacking in the small of the back: 1 none; a chair's own bulge and a roll count by one rule.

    Notes
    -----
    40 mm give back 10 of the 43 degrees that sitting takes, 23 %; a shaped
    pillow on office chairs gave 2.9, 7 % (grondin_2013, published), which is
    what a bulge of 12 mm gives here. That the share is the same with and
    without a back to lean on is a judgement.
    """
    tied = np.asarray(back_tied) == "yes"
    bulge = seat_lumbar_depth + np.where(tied, 1.0, UNTIED_ROLL) * back_roll
    back = LORDOSIS_PER_MM * np.minimum(bulge, LUMBAR_WORKS_TO) / LORDOSIS_SITTING_TAKES
    return lookup(seat_back, BACK_LACK) * (1.0 - back)


def _sliding(seat_loose: Words, seat_held: Words) -> Array:
    slides = (np.asarray(seat_loose) == "yes") & (np.asarray(seat_held) != "yes")
    return np.where(slides, SLUMP_SLIDING, 0.0)


@quantity("deg", cut=True)
def lordosis_lost(back_lack: Array, pelvis_roll: Array, seat_loose: Words, seat_held: Words) -> Array:
    """Hollow of the low back lost against standing, to the whole degree.

    Notes
    -----
    A degree for each degree that the pelvis rolls back, and for each mm of
    sliding (judgement). It is not the eye's drop, which is `slump`.
    """
    return whole_mm(LORDOSIS_SITTING_TAKES * back_lack + pelvis_roll + _sliding(seat_loose, seat_held))


@quantity("mm", name="slump", mode="sit", cut=True)
def slump_sitting(back_lack: Array, pelvis_roll: Array, seat_loose: Words, seat_held: Words) -> Array:
    """Eye height lost by sitting round-backed, to the nearest 5 mm: a back knows no finer.

    Notes
    -----
    In proportion to the support lacking (judgement: what was measured of rolls
    is the hollow of the back, `lordosis_lost`, not the height of the eye).
    """
    sliding = _sliding(seat_loose, seat_held)
    return 5.0 * whole_mm((SLUMP_WITHOUT_SUPPORT * back_lack + pelvis_roll + sliding) / 5.0)


@quantity("mm", name="slump", mode="stand")
def slump_standing(person_shoes: Array) -> Array:
    """None: a standing trunk is not folded."""
    return 0.0 * person_shoes


@quantity("mm")
def seat_clearance(buttock_popliteal_length: Array, seat_depth: Array, back_depth_taken: Array) -> Array:
    """Gap between the seat's front edge and the hollow of the knee."""
    return np.asarray(buttock_popliteal_length - (seat_depth - back_depth_taken))


@quantity("mm")
def thigh_top(seat_top: Array, thigh_clearance: Array) -> Array:
    """Top of the thigh above the floor."""
    return np.asarray(seat_top + thigh_clearance)


@quantity("mm", cut=True)
def knee_top(
    foot_surface: Array, person_shoes: Array, knee_height: Array, seat_front: Array, popliteal_height: Array
) -> Array:
    """Top of the knee above the floor; hanging feet leave it at the height of the seat."""
    return np.maximum(foot_surface + person_shoes + knee_height, seat_front + knee_height - popliteal_height)


@quantity("mm", cut=True)
def work_surface(desk_height: Array, lap_rise: Array, thigh_top: Array) -> Array:
    """Top of what the work stands on, above the floor: the desk, or a board on the thighs, which move it.

    Notes
    -----
    Of a lap whose height was measured (`lap_rise` not known) that height counts,
    and seat and feet are left as they are there.
    """
    return np.where(np.isnan(lap_rise), desk_height, whole_mm(thigh_top + np.nan_to_num(lap_rise)))


@quantity("mm")
def desk_underside(work_surface: Array, desk_frame: Array) -> Array:
    """Lowest part of the desk over the thighs, above the floor; it rises with the desk."""
    return np.asarray(work_surface - desk_frame)


@quantity("mm", cut=True)
def legs_top(thigh_top: Array, knee_top: Array) -> Array:
    """Highest part of the legs above the floor."""
    return np.maximum(thigh_top, knee_top)


@quantity("mm")
def clearance(
    desk_underside: Array, desk_lap_lost: Array, legs_top: Array, desk_legs: Words, lap_rise: Array
) -> Array:
    """Free height between legs and desk; under 0 nobody fits. Over a lap nothing stands."""
    free = desk_underside - desk_lap_lost - legs_top
    return np.where((np.asarray(desk_legs) == "lap") | ~np.isnan(lap_rise), OVER_A_LAP, free)


# --- eyes, elbows and hands ----------------------------------------------------------------------


@quantity("mm", name="eye_height", cut=True, mode="sit")
def eye_height_sitting(
    seat_top: Array, sitting_eye_height: Array, recline_used: Array, slump: Array
) -> Array:
    """Eye above the floor, sitting."""
    return whole_mm(seat_top + sitting_eye_height * np.cos(np.radians(recline_used)) - slump)


@quantity("mm", name="eye_height", mode="stand")
def eye_height_standing(standing_eye_height: Array, person_shoes: Array) -> Array:
    """Eye above the floor, standing."""
    return np.asarray(standing_eye_height + person_shoes)


@quantity("mm", name="elbow_height", mode="sit", cut=True)
def elbow_height_sitting(
    seat_top: Array,
    sitting_elbow_height: Array,
    sitting_shoulder_height: Array,
    recline_used: Array,
    slump: Array,
) -> Array:
    """Elbow above the floor, sitting, upper arm hanging."""
    shoulder_drop = sitting_shoulder_height * (1.0 - np.cos(np.radians(recline_used)))
    return whole_mm(seat_top + sitting_elbow_height - shoulder_drop - SHOULDER_DROP_IN_SLUMP * slump)


@quantity("mm", name="elbow_height", mode="stand")
def elbow_height_standing(standing_elbow_height: Array, person_shoes: Array) -> Array:
    """Elbow above the floor, standing, upper arm hanging."""
    return np.asarray(standing_elbow_height + person_shoes)


@quantity("mm")
def desk_gap(work_surface: Array, elbow_height: Array) -> Array:
    """Desk top above the hanging elbow; under 0 below it."""
    return np.asarray(work_surface - elbow_height)


@quantity("mm")
def standing_desk_gap(desk_height: Array, standing_elbow_height: Array, person_shoes: Array) -> Array:
    """Desk top above the hanging elbow of the standing person; under 0 below it."""
    return np.asarray(desk_height - (standing_elbow_height + person_shoes))


@quantity("mm", asks={"mode": "sit"})
def least_desk_gap(stand_share: Array, desk_gap: Array, standing_desk_gap: Array) -> Array:
    """Desk top above the hanging elbow in that posture in use there in which it is lower."""
    sitting = np.where(stand_share < 1.0, desk_gap, standing_desk_gap)
    return np.where(stand_share > 0.0, np.minimum(sitting, standing_desk_gap), sitting)


@quantity("mm", asks={"mode": "sit"})
def most_desk_gap(stand_share: Array, desk_gap: Array, standing_desk_gap: Array) -> Array:
    """Desk top above the hanging elbow in that posture in use there in which it is higher."""
    sitting = np.where(stand_share < 1.0, desk_gap, standing_desk_gap)
    return np.where(stand_share > 0.0, np.maximum(sitting, standing_desk_gap), sitting)


@quantity("mm")
def laptop_base(work_surface: Array, screen_raise: Array, task_screen: Words) -> Array:
    """What the laptop stands on, above the floor; a raise under a monitor does not lift it."""
    return np.asarray(work_surface + np.where(np.asarray(task_screen) == "monitor", 0.0, screen_raise))


@quantity("mm", name="hand_height", hand="keys", cut=True)
def keys_height(
    work_surface: Array,
    laptop_base: Array,
    keyboard: Words,
    keyboard_height: Array,
    keyboard_drop: Array,
    laptop_keys: Array,
    laptop_depth: Array,
    laptop_incline: Array,
) -> Array:
    """Home row of the keys typed on, above the floor: the laptop's own keys rise with the laptop."""
    own = laptop_base + laptop_keys + 0.5 * laptop_depth * _sin(laptop_incline)
    apart = work_surface + keyboard_height - keyboard_drop
    return whole_mm(np.where(np.asarray(keyboard) == "separate", apart, own))


@quantity("mm", name="hand_height", hand="mouse", cut=True)
def mouse_height(
    work_surface: Array, laptop_base: Array, mouse: Words, keyboard_drop: Array, laptop_keys: Array
) -> Array:
    """Table under the mouse, or the touchpad in front of the laptop's keys, above the floor."""
    return np.where(np.asarray(mouse) == "separate", work_surface - keyboard_drop, laptop_base + laptop_keys)


@quantity("mm", name="hand_height", hand="writing", cut=True)
def writing_height(work_surface: Array, paper_base: Array, paper_slope: Array, desk_tilt: Array) -> Array:
    """Middle of the sheet written on, above the floor."""
    sloped = sheet_rise(0.5 * SHEET_LENGTH * _sin(paper_slope))
    return np.asarray(work_surface + paper_base + sloped + sheet_rise(PAPER_FROM_EDGE * _sin(desk_tilt)))


@quantity("mm", cut=True)
def hand_gap(hand_height: Array, elbow_height: Array) -> Array:
    """What the hands work on above the hanging elbow; under 0 below it."""
    return np.asarray(hand_height - elbow_height)


@quantity("mm", name="elbow_rest", hand="writing", cut=True)
def writing_elbow_rest(
    hand_height: Array, work_surface: Array, key_slope: Array, forearm_length: Array
) -> Array:
    """Height at which the elbow of the writing arm rests: the forearm lies along the sheet, from the desk up.

    Notes
    -----
    Geometry. A slope lifts the hand and turns the forearm with it, so that the
    elbow stays by the edge of the desk; that it lies there is a judgement.
    """
    return whole_mm(np.maximum(work_surface, hand_height - forearm_length * _sin(key_slope)))


@quantity("mm", name="elbow_lift", hand="writing", cut=True)
def writing_elbow_lift(elbow_rest: Array, elbow_height: Array) -> Array:
    """Elbow of the writing arm above where it hangs; a surface below the elbow lifts nothing."""
    return np.maximum(elbow_rest - elbow_height, 0.0)


@quantity("deg", name="key_slope", hand="keys")
def key_slope(keyboard: Words, laptop_incline: Array) -> Array:
    """Slope of the keys typed on; a plain keyboard with its feet folded lies flat."""
    return np.where(np.asarray(keyboard) == "separate", 0.0, laptop_incline)


@quantity("deg", name="key_slope", hand="mouse")
def mouse_slope(mouse: Words, laptop_incline: Array) -> Array:
    """Slope under the hand at mouse or touchpad."""
    return np.where(np.asarray(mouse) == "separate", 0.0, laptop_incline)


@quantity("deg", name="key_slope", hand="writing")
def sheet_slope(paper_slope: Array, desk_tilt: Array) -> Array:
    """Slope under the writing hand."""
    return np.asarray(paper_slope + desk_tilt)


@quantity("deg")
def forearm_rise(hand_gap: Array, forearm_length: Array) -> Array:
    """Forearm above the horizontal, elbow at the side."""
    return angle(np.degrees(np.arcsin(np.clip(hand_gap / forearm_length, -1.0, 1.0))))


@quantity("deg")
def wrist_extension(key_slope: Array, forearm_rise: Array) -> Array:
    """Wrist bent back; under 0 bent down."""
    return angle(key_slope - forearm_rise)
