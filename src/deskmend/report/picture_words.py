"""Words for what pictures show: measures, points and sheets."""

from __future__ import annotations

__all__ = ["CORNER_NAMES", "MEASURE_NAMES", "POINT_NAMES", "SHEET_NAMES"]

MEASURE_NAMES = {
    "seat_height": "front edge of the seat above the floor",
    "seat_depth": "depth of the seat",
    "desk_height": "height of the desk",
    "desk_underside": "height of the desk's underside",
    "foot_surface": "height of what the feet stand on",
    "keys_height": "height of the keys",
    "elbow_height": "height of the elbow",
    "eye_height": "height of the eye",
    "screen_top": "height of the screen's top edge",
    "screen_bottom": "height of the screen's bottom edge",
    "screen_over_desk": "top edge of the screen above the desk",
    "screen_height": "height of the picture on the screen",
    "viewing_distance": "eye to the middle of the screen",
    "seat_slope": "slope of the seat",
    "craniovertebral_angle": "neck (C7) to ear above the level",
    "neck_angle": "neck (C7) to ear forward of the trunk",
    "trunk_angle": "trunk forward of upright",
    "upper_arm_angle": "upper arm forward of hanging",
    "arm_to_trunk_angle": "upper arm forward of the trunk",
    "elbow_angle": "angle at the elbow",
    "wrist_extension": "hand bent up at the wrist",
    "hip_angle": "angle at the hip",
    "knee_angle": "angle at the knee",
}
"""Measures in words."""

POINT_NAMES = {
    "eye": "outer corner of the eye",
    "tragus": "ear (in front of its opening)",
    "c7": "lowest bump of the neck (C7)",
    "acromion": "tip of the shoulder",
    "elbow": "elbow",
    "wrist": "wrist",
    "knuckle": "knuckle of the middle finger",
    "trochanter": "hip (the bump of the thigh bone)",
    "knee": "knee",
    "ankle": "ankle",
    "seat_front": "front edge of the seat",
    "seat_back": "back end of the seat",
    "desk_edge": "front edge of the desk",
    "desk_underside": "underside of the desk",
    "screen_top": "top edge of the screen",
    "screen_bottom": "bottom edge of the screen",
    "keys": "keys",
    "foot_surface": "what the feet stand on",
    "floor_a": "first point on the floor",
    "floor_b": "second point on the floor",
}
"""Points in words."""

SHEET_NAMES = {"a4": "an A4 sheet", "letter": "a Letter sheet", "card": "a bank card"}
"""Sheets in words."""

CORNER_NAMES = {
    "top left": "upper left corner of the sheet",
    "top right": "upper right corner of the sheet",
    "bottom right": "lower right corner of the sheet",
    "bottom left": "lower left corner of the sheet",
}
"""Corners in words, in the order in which they are marked."""
