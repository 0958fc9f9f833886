"""Looking: how high and far the tools are, and what head and trunk do to see them.

Head pitch follows the share of a change of gaze that the head takes up; the
lean of the trunk follows the wish to bring the eye within reading distance.
Both are anchored at published angles, see :data:`HEAD_SHARE` and
:data:`READING_DISTANCE_PAPER`.
"""

from __future__ import annotations

import numpy as np

from deskmend.workstation.graph import Array, Words, angle, derive, quantity, whole_mm
from deskmend.workstation.posture import (
    PAPER_FROM_EDGE,
    SHEET_LENGTH,
    sheet_rise,
)

__all__: list[str] = []

HEAD_SHARE = 0.41
"""Part of a change of gaze taken up by the head over paper [-]: 37 of 90 degrees.
Source: burgess_limerick_1998 (published); the straight line through it is derived."""
HEAD_SHARE_SCREEN = 0.5
"""The same at a screen [-] (derived): between 0.41 over 90 degrees (burgess_limerick_1998) and 0.67 over the
27 in which screens stand (burgess_limerick_1998_height). With it measured differences of laptops come out
within their intervals or 2 degrees (yu_2018, yadegaripour_2021, asundi_2009, asundi_2010)."""
HEAD_LEVEL_AT = 15.0
"""Declination at which the head is held level [deg]: preferred gaze 27 below the ear-eye line less 11
between the two frames (derived; people differ, 5 to 25)."""
HEAD_PITCH_RANGE = (-15.0, 37.0)
"""Range of the published line [deg]."""
HEAD_DEG_PER_SLUMP_MM = 0.2
"""Forward head per mm of slump [deg/mm] (judgement)."""
READING_DISTANCE_PAPER = 450.0
"""Eye to paper to which one leans, flat sheet and text of usual size [mm] (judgement, anchored: with a
paper distance of 493 mm a sheet 502 mm below the eye gives the published 26 degrees of trunk lean)."""
READING_DISTANCE_SCREEN = 750.0
"""Eye to screen to which one leans, text of usual size [mm]: beyond it a screen is too far in rosa_2012
(published); that one leans by just what is beyond is a judgement."""
FLAT_VIEW = 45.5
"""Declination at which the anchor's flat sheet is seen [deg] (derived from the published head and trunk)."""
FORESHORTENING_POWER = 0.56
"""How reading distance grows as a slope turns the sheet to the eye [-]: about the square root of what
foreshortening gives back (derived: reproduces the published 18.2 degrees at a 10 degree slope)."""


@quantity("mm", name="target_top_height", target="screen", cut=True)
def screen_top_height(
    work_surface: Array,
    screen_raise: Array,
    task_screen: Words,
    laptop_screen_top: Array,
    laptop_depth: Array,
    laptop_incline: Array,
    monitor_top: Array,
) -> Array:
    """Top edge of the picture looked at, above the floor; whatever stands on the desk rises with it."""
    laptop = laptop_screen_top + laptop_depth * np.sin(np.radians(laptop_incline))
    own = np.where(np.asarray(task_screen) == "monitor", monitor_top, laptop)
    return whole_mm(work_surface + screen_raise + own)


@quantity("mm", name="target_top_height", target="second")
def second_top_height(work_surface: Array, second_raise: Array, second_top: Array) -> Array:
    """Top edge of the second screen above the floor."""
    return np.asarray(work_surface + second_raise + second_top)


@quantity("mm", name="target_half_height", target="screen")
def screen_half_height(task_screen: Words, laptop_screen_height: Array, monitor_height: Array) -> Array:
    """Half the height of the picture."""
    tall = np.where(np.asarray(task_screen) == "monitor", monitor_height, laptop_screen_height)
    return np.asarray(0.5 * tall)


@quantity("mm", name="target_half_height", target="second")
def second_half_height(second_height: Array) -> Array:
    """Half the height of the second screen's picture."""
    return np.asarray(0.5 * second_height)


@quantity("mm", name="target_half_height", target="paper")
def paper_half_height(paper_slope: Array) -> Array:
    """Half the height by which a sloped sheet rises."""
    return sheet_rise(0.5 * SHEET_LENGTH * np.sin(np.radians(paper_slope)))


@quantity("mm", name="target_centre_height", target=("screen", "second"))
def screen_centre_height(target_top_height: Array, target_half_height: Array) -> Array:
    """Middle of the picture above the floor."""
    return np.asarray(target_top_height - target_half_height)


@quantity("mm", name="target_centre_height", target="paper", cut=True)
def paper_centre_height(
    work_surface: Array, paper_base: Array, target_half_height: Array, desk_tilt: Array
) -> Array:
    """Middle of the sheet above the floor."""
    tilted = sheet_rise(PAPER_FROM_EDGE * np.sin(np.radians(desk_tilt)))
    return np.asarray(work_surface + paper_base + target_half_height + tilted)


@quantity("mm", cut=True)
def eye_over_centre(eye_height: Array, target_centre_height: Array) -> Array:
    """Eye above the middle of what is looked at."""
    return np.asarray(eye_height - target_centre_height)


def _top_over_eye(eye_over_centre: Array, target_half_height: Array) -> Array:
    """Top edge of the picture above the eye; under 0 below it."""
    return np.asarray(target_half_height - eye_over_centre)


for _which in ("screen", "second"):
    for _mode, _eye in (("sit", "sitting_eye"), ("stand", "standing_eye")):
        quantity("mm", name=f"{_which}_over_{_eye}", asks={"target": _which, "mode": _mode})(_top_over_eye)


@quantity("deg")
def gaze_top(eye_over_centre: Array, target_half_height: Array, target_distance: Array) -> Array:
    """Top edge below the horizontal through the eye."""
    return angle(np.degrees(np.arctan2(eye_over_centre - target_half_height, target_distance)))


@quantity("deg")
def gaze_centre(eye_over_centre: Array, target_distance: Array) -> Array:
    """Middle of what is looked at, below the horizontal through the upright eye."""
    return angle(np.degrees(np.arctan2(eye_over_centre, target_distance)))


@quantity("mm")
def viewing_distance(eye_over_centre: Array, target_distance: Array) -> Array:
    """Upright eye to the middle of what is looked at, along the line of sight."""
    return whole_mm(np.hypot(eye_over_centre, target_distance))


@quantity("deg", name="head_pitch", target="paper")
def head_pitch_paper(gaze_centre: Array) -> Array:
    """Head bent from level by looking down at paper; see HEAD_SHARE."""
    return angle(np.clip(HEAD_SHARE * (gaze_centre - HEAD_LEVEL_AT), *HEAD_PITCH_RANGE))


@quantity("deg", name="head_pitch", target=("screen", "second"))
def head_pitch_screen(gaze_centre: Array) -> Array:
    """Head bent from level by looking down at a screen; see HEAD_SHARE_SCREEN."""
    return angle(np.clip(HEAD_SHARE_SCREEN * (gaze_centre - HEAD_LEVEL_AT), *HEAD_PITCH_RANGE))


@quantity("mm", name="reading_distance", target="paper")
def reading_distance_paper(paper_slope: Array, desk_tilt: Array) -> Array:
    """Eye to paper to which one leans: further for a sheet turned to the eye."""
    seen = np.sin(np.radians(np.minimum(90.0, FLAT_VIEW + paper_slope + desk_tilt)))
    gained = (seen / np.sin(np.radians(FLAT_VIEW))) ** FORESHORTENING_POWER
    return np.asarray(READING_DISTANCE_PAPER * gained)


@quantity("mm", name="reading_distance", target=("screen", "second"))
def reading_distance_screen(text_scale: Array) -> Array:
    """Eye to screen to which one leans."""
    return np.asarray(READING_DISTANCE_SCREEN * text_scale)


@quantity("deg")
def reading_lean(
    eye_over_centre: Array, target_distance: Array, reading_distance: Array, sitting_eye_height: Array
) -> Array:
    """Forward lean that brings the eye within reading distance, turning about the hip.

    Notes
    -----
    The eye moves on a circle of radius h about the hip; the target lies at
    distance r from the hip, at angle p from the vertical. The law of cosines
    gives the lean t at which eye and target are the reading distance R apart:
    ``t = p - arccos((h^2 + r^2 - R^2) / (2 h r))``. Anchored at freudenthal_1991
    (published): 26.0 degrees on a flat desk, 18.2 at a 10-degree slope.
    """
    h = sitting_eye_height
    up = h - eye_over_centre
    r = np.hypot(target_distance, up)
    p = np.arctan2(target_distance, up)
    cosine = (h**2 + r**2 - reading_distance**2) / (2.0 * h * r)
    return angle(np.clip(np.degrees(p - np.arccos(np.clip(cosine, -1.0, 1.0))), 0.0, 90.0))


@quantity("deg")
def trunk_inclination(reading_lean: Array, hands_lean: Array) -> Array:
    """Trunk forward of upright, as far as eyes or hands ask, whichever is more (judgement)."""
    return np.maximum(reading_lean, hands_lean)


@quantity("deg")
def head_inclination(head_pitch: Array, trunk_inclination: Array, slump: Array) -> Array:
    """Head forward of its upright attitude: looking down, leaning and slumping add up.

    Notes
    -----
    Anchored at freudenthal_1991 (published): 38.5 degrees flat, 29.6 at a
    10-degree slope, without slump.
    """
    return angle(head_pitch + trunk_inclination + HEAD_DEG_PER_SLUMP_MM * slump)


@quantity("deg", name="neck_flexion", mode="sit")
def neck_flexion_sitting(
    head_pitch: Array, slump: Array, recline_used: Array, trunk_inclination: Array
) -> Array:
    """Head against trunk: whoever leans back makes up the recline in the neck."""
    leaning_back = np.where(trunk_inclination > 0, 0.0, recline_used)
    return angle(head_pitch + HEAD_DEG_PER_SLUMP_MM * slump + leaning_back)


# standing, the trunk is upright
derive("neck_flexion", "deg", "head_pitch", mode="stand")
