"""For each fix: a case in which it can be chosen, what it moves and which way, and a case that blocks it.

Signs are geometry or the words of a field: what is raised goes up, what is brought nearer gets nearer.
They come from no study; sizes that a study gives are tested in ``tests/workstation``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

S, D, T = "places__0__seat__", "places__0__desk__", "tasks__0__"
OPEN: dict[str, Any] = {
    "owns": {"hardback_book": ["40", "60"]},
    "means__budget": "1000.00",
    "means__may_alter": "yes",
    "means__tools": ["scissors", "needle", "saw", "drill", "screwdriver", "spanner", "knife", "hammer"],
    "room__landlord_leave": "yes",
    "devices__phone": "cradled",
    T + "phone_share": "0.2",
}
PAPER: dict[str, Any] = {T + "reference": "paper", T + "reference_share": "0.4", T + "paper__at": "left"}
NO_PAPER: dict[str, Any] = {T + "reference": "none", T + "reference_share": None, T + "paper": None}
MONITOR: dict[str, Any] = {
    "devices__monitor": {"top": "450", "height": "270"},
    "devices__keyboard": "separate",
    "devices__mouse": "separate",
    T + "main": "monitor",
}


def beside(**more: Any) -> dict[str, Any]:
    """A low second screen far aside, looked at for half of the time."""
    one = {"kind": "monitor", "top": "250", "height": "200", "angle": "50", "distance": "700", "share": "0.5"}
    return {**MONITOR, "screens": [{**one, **more}]}


LOW_KEYS: dict[str, Any] = {D + "height": "668", D + "underside": "638"}
HIGH: dict[str, Any] = {D + "height": "740", D + "underside": "710"}
TWO_PLACES: dict[str, Any] = {"places__0__other_seats": [{"id": "bench", "height": "450", "back": "none"}]}
THIN: dict[str, Any] = {D + "underside": "660"}
FLOOR: dict[str, Any] = {
    S + "height": "50",
    S + "depth": "400",
    S + "back": "none",
    S + "recline": None,
    S + "base": "unknown",
    D + "height": "350",
    D + "underside": None,
    "owns": {"blanket": "2"},
}
LAP: dict[str, Any] = {
    "places__0__kind": "sofa",
    D + "height": "480",
    D + "underside": "470",
    "owns": {"blanket": "1", "board_a3": "1"},
}
HANDS = ["numb_or_weak_hand"]
SKIN = ["broken_or_numb_skin"]
SPINE = ["recent_surgery"]
NO_TOOLS = {"means__tools": []}
NOT_ALTERED = {"means__may_alter": "no"}


@dataclass(frozen=True)
class FixCase:
    """One fix: case changes, helpers taken along, signs, and changes that block it."""

    changes: dict[str, Any]
    signs: tuple[str, ...]
    blocked: dict[str, Any]
    helpers: tuple[str, ...] = ()
    never: tuple[str, ...] = field(default=())


def sign(who: list[str]) -> dict[str, Any]:
    """A warning sign of the person."""
    return {"person__warning_signs": who}


KEYS = ("keyboard_basic", "mouse_basic")
CASES: dict[str, FixCase] = {
    "forearms_on_desk": FixCase(LOW_KEYS, ("hand_gap_severity@keys -",), sign(HANDS)),
    "forearm_board": FixCase(LOW_KEYS, ("hand_gap_severity@keys -",), {D + "top": "glass"}),
    "desk_edge_foam": FixCase({D + "edge": "sharp"}, ("edge_severity@keys -",), {D + "edge": "rounded"}),
    "armrest_padding": FixCase(
        {S + "armrests": "fixed", S + "armrest_height": "180"},
        ("armrest_gap +",),
        {S + "armrests": "none", S + "armrest_height": None},
    ),
    "armrest_set": FixCase(
        {**LOW_KEYS, S + "armrests": "adjustable", S + "armrest_range": ["180", "260"], **THIN},
        ("hand_gap_severity@keys -",),
        sign(HANDS),
    ),
    "armrests_lowered": FixCase(
        {S + "armrests": "adjustable", S + "armrest_height": "250", S + "armrest_range": ["180", "260"]},
        ("armrest_room +", "stand_off -", "reach@keys -"),
        {S + "armrest_height": "190"},
    ),
    "armrests_off": FixCase(
        {S + "armrests": "fixed", S + "armrest_height": "250"},
        ("armrest_room +", "stand_off -", "reach@keys -"),
        {S + "armrest_height": "150"},
    ),
    "backrest_set": FixCase(
        {S + "recline": "5", S + "recline_range": ["0", "20"]}, ("hip_angle -",), {S + "recline_range": None}
    ),
    "seat_tilt_set": FixCase(
        {S + "slope": "4", S + "slope_range": ["0", "6"]},
        ("thigh_rise -", "elbow_height +"),
        {S + "slope_range": None},
    ),
    "wall_back": FixCase(
        {S + "back": "none", S + "recline": None, S + "base": "stool"}, ("slump -",), {S + "base": "wheels"}
    ),
    "floor_blankets": FixCase(FLOOR, ("elbow_height +", "hip_angle +"), {S + "height": "400"}),
    "back_towel": FixCase({S + "back": "flat"}, ("lordosis_lost -", "seat_clearance +"), sign(SPINE)),
    "back_cushion": FixCase({S + "back": "flat"}, ("lordosis_lost -", "seat_clearance +"), sign(SPINE)),
    "back_contoured": FixCase({S + "back": "flat"}, ("lordosis_lost -", "seat_clearance +"), sign(SPINE)),
    "back_strap": FixCase({S + "back": "flat"}, ("lordosis_lost -",), sign(SPINE), ("back_towel",)),
    "back_depth_filler": FixCase(
        {S + "depth": "500"}, ("seat_clearance +",), {S + "back": "none", S + "recline": None}
    ),
    "chair_legs_shorten": FixCase(
        {S + "height": "480", D + "height": "650"}, ("leg_gap -", "elbow_height -"), {S + "material": "metal"}
    ),
    "chair_legs_raise": FixCase(HIGH, ("leg_gap +", "elbow_height +"), {S + "base": "wheels"}),
    "desk_blocks": FixCase({}, ("desk_gap +", "clearance +"), {D + "legs": "folding"}),
    "desk_adjust": FixCase({D + "height_range": ["650", "720"]}, ("desk_gap +",), {D + "height_range": None}),
    "desk_lower": FixCase(HIGH, ("desk_gap -", "clearance -"), {D + "top": "glass"}),
    "desk_tilt": FixCase({T + "main": "paper"}, ("trunk_inclination@paper -",), {T + "main": "laptop"}),
    "feet_floor": FixCase(
        {D + "foot_bar": "200", D + "foot_bar_setback": "300", "places__0__feet_on": "foot_bar"},
        ("foot_surface -",),
        {D + "foot_bar_setback": "50"},
    ),
    "feet_ring": FixCase(
        {S + "height": "560", S + "foot_ring": "160", "places__0__feet_on": "nothing"},
        ("leg_gap -",),
        {S + "foot_ring": "60"},
    ),
    "feet_bar": FixCase(
        {
            S + "height": "560",
            D + "foot_bar": "160",
            D + "foot_bar_setback": "200",
            "places__0__feet_on": "nothing",
        },
        ("leg_gap -",),
        {D + "foot_bar": None, D + "foot_bar_setback": None},
    ),
    "feet_bar_padded": FixCase(
        {
            S + "height": "560",
            D + "foot_bar": "100",
            D + "foot_bar_setback": "200",
            "places__0__feet_on": "nothing",
            "owns": {"blanket": "1"},
        },
        ("leg_gap -",),
        {D + "foot_bar": None, D + "foot_bar_setback": None},
    ),
    "feet_book": FixCase({S + "height": "445"}, ("leg_gap -",), {"owns": {}}),
    "feet_carton": FixCase({S + "height": "470"}, ("leg_gap -",), NO_TOOLS),
    "feet_board_made": FixCase({S + "height": "460"}, ("leg_gap -",), NO_TOOLS),
    "feet_crate": FixCase(
        {
            S + "height": "725",
            D + "height": "1000",
            D + "underside": "960",
            "places__0__feet_on": "nothing",
            "owns": {"crate": "1"},
        },
        ("leg_gap -",),
        sign(["late_pregnancy"]),
    ),
    "feet_rest_bought": FixCase({S + "height": "470"}, ("leg_gap -",), {S + "height": "900"}),
    "foot_bar_clear": FixCase({D + "foot_bar": "200", D + "foot_bar_setback": "50"}, (), NOT_ALTERED),
    "desk_turn_window": FixCase(
        {"places__0__light__glare": "window_behind"},
        ("glare_severity@screen -",),
        {"places__0__light__glare": "lamp"},
    ),
    "lamp_move": FixCase(
        {"places__0__light__glare": "lamp"},
        ("glare_severity@screen -",),
        {"places__0__light__glare": "window_ahead"},
    ),
    "curtain_window": FixCase(
        {"places__0__light__glare": "window_behind"},
        ("glare_severity@screen -",),
        {"places__0__light__glare": "lamp"},
    ),
    "screen_hood": FixCase(
        {"places__0__light__glare": "lamp"},
        ("glare_severity@screen -",),
        {"places__0__light__glare": "window_ahead"},
    ),
    "place": FixCase({}, (), {}),
    "stand_by_turns": FixCase({D + "height": "1000", D + "underside": None}, (), sign(["late_pregnancy"])),
    "break_timer": FixCase({T + "spell": "120"}, ("task_spell_factor -",), {}, never=("break_timer",)),
    "weight_shifts": FixCase(
        {T + "spell": "120", "person__cannot_stand": "yes"},
        ("place_spell_factor -",),
        {"person__cannot_stand": "no"},
    ),
    "keyboard_basic": FixCase(
        {"places__0__seat__height": "415"},
        (),
        {
            "devices__keyboard": "separate",
            "devices__keyboard_size": {"height": "20", "number_pad": "no"},
        },
    ),
    "mouse_basic": FixCase({}, ("hand_height@mouse -",), {"devices__mouse": "separate"}),
    "keyboard_no_number_pad": FixCase(
        {**MONITOR, "devices__keyboard_size": {"height": "20", "number_pad": "yes"}},
        ("reach_sideways@mouse -",),
        {"devices__keyboard_size": {"height": "20", "number_pad": "no"}},
    ),
    "mouse_other_hand": FixCase(
        {**MONITOR, "devices__keyboard_size": {"height": "20", "number_pad": "yes"}},
        ("reach_sideways@mouse -",),
        {"person__mouse_hand": "left"},
    ),
    "keyboard_tray_made": FixCase(
        {**HIGH, **MONITOR},
        ("hand_height@keys -", "hand_height@mouse -", "clearance -"),
        {D + "top": "glass"},
    ),
    "lamp_task": FixCase(
        {"places__0__light__lux": "150"},
        ("lux_severity -",),
        {"means__currency": "XXX"},
        never=("lamp_task",),
    ),
    "middle": FixCase(PAPER, ("neck_rotation@paper -",), NO_PAPER),
    "inline_holder_made": FixCase({**PAPER, **MONITOR}, ("neck_rotation@paper -",), NO_PAPER),
    "inline_holder_bought": FixCase({**PAPER, **MONITOR}, ("neck_rotation@paper -",), NO_PAPER),
    "paper_side": FixCase(PAPER, (), NO_PAPER),
    "slope_binder": FixCase(PAPER, ("trunk_inclination@paper -",), NO_PAPER),
    "slope_plank": FixCase(PAPER, ("trunk_inclination@paper -",), NO_TOOLS),
    "slope_boards": FixCase(PAPER, ("trunk_inclination@paper -",), NO_TOOLS),
    "holder_bought": FixCase(PAPER, ("trunk_inclination@paper -",), {T + "writing": "yes"}),
    "phone_headset": FixCase({}, ("phone_severity -",), {"devices__phone": "none", T + "phone_share": None}),
    "phone_hands_free": FixCase({"room__shared": "no"}, ("phone_severity -",), {"room__shared": None}),
    "reach_layout": FixCase(
        {**MONITOR, T + "viewing_distance": "400"}, ("viewing_distance@screen +",), {D + "depth": "400"}
    ),
    "monitor_top": FixCase(
        {**MONITOR, "devices__monitor": {"top": "450", "height": "270", "top_range": ["450", "480"]}},
        ("gaze_top@screen -",),
        {"devices__monitor": {"top": "450", "height": "270"}},
    ),
    "screen_lower_multifocal": FixCase(
        {**MONITOR, "person__eyewear": "multifocal"},
        ("gaze_centre@screen +",),
        {"person__eyewear": "unknown"},
    ),
    "screen_books": FixCase({}, ("gaze_centre@screen -", "hand_height@keys 0"), {"owns": {}}, KEYS),
    "screen_box": FixCase({}, ("gaze_centre@screen -", "hand_height@keys 0"), NO_TOOLS, KEYS),
    "screen_stand": FixCase({}, ("gaze_centre@screen -", "hand_height@keys 0"), {T + "main": "paper"}, KEYS),
    "screen_shelf": FixCase(
        {}, ("gaze_centre@screen -",), {S + "shared_with": [{"stature": "1800", "sex": "male"}]}, KEYS
    ),
    "laptop_incline": FixCase(
        {}, ("gaze_centre@screen -", "wrist_extension@keys +"), {"devices__keyboard": "separate"}
    ),
    "screen_ahead": FixCase(
        {**MONITOR, "devices__monitor": {"top": "450", "height": "270", "angle": "30"}},
        ("neck_rotation@screen -",),
        MONITOR,
    ),
    "second_beside": FixCase(beside(), ("neck_rotation@second -",), {"screens": []}),
    "screens_centred": FixCase(beside(), ("neck_rotation@second -",), beside(share="0.3")),
    "one_screen": FixCase(beside(share="0.2"), ("look_share@second -",), beside(share="0.3")),
    "second_books": FixCase(beside(), ("gaze_centre@second -",), {"owns": {}}),
    "second_box": FixCase(beside(), ("gaze_centre@second -",), NO_TOOLS),
    "second_hand_monitor": FixCase({}, ("gaze_centre@screen -",), MONITOR, KEYS),
    "other_seat": FixCase(TWO_PLACES, ("seat_front +",), {"places__0__other_seats": []}),
    "seat_height": FixCase(
        {S + "height_range": ["415", "500"]}, ("elbow_height +",), {S + "height_range": None}
    ),
    "chair_used_adjustable": FixCase(
        {S + "surface": "hard", S + "back": "flat"},
        ("seat_pressure_severity -", "lordosis_lost -"),
        {S + "adjustable": "yes"},
    ),
    "anti_slip_mat": FixCase({}, ("slump -",), {}, ("seat_blanket",), never=("seat_blanket",)),
    "cushion_ties": FixCase({}, ("slump -",), {S + "base": "wheels"}, ("seat_blanket",)),
    "seat_blanket": FixCase(
        {S + "surface": "hard"}, ("seat_pressure_severity -", "elbow_height +"), sign(SKIN)
    ),
    "seat_rear_towel": FixCase(
        {S + "slope": "5", S + "back": "flat", "owns": {"bath_towel": "1"}},
        ("thigh_rise -", "elbow_height +"),
        sign(SKIN),
    ),
    "surface_on_boxes": FixCase(
        {D + "height": "480", D + "underside": None, "owns": {"carton_box": "2"}},
        ("desk_gap +", "clearance 0"),
        {D + "top": "glass"},
    ),
    "table_of_crates": FixCase(
        {D + "height": "780", D + "underside": "740", "owns": {"crate": "4"}},
        ("desk_gap -",),
        {D + "height": "650", D + "underside": "620"},
    ),
    "lap_board": FixCase(
        LAP, ("hand_height@keys +", "target_distance@screen -", "clearance +"), {"places__0__kind": "desk"}
    ),
    "ironing_board": FixCase(
        {D + "height": "480", D + "underside": None, "owns": {"ironing_board": "1"}},
        ("desk_gap +",),
        {D + "height": "650", D + "underside": "620"},
    ),
    "seat_foam": FixCase({S + "surface": "hard"}, ("seat_pressure_severity -", "elbow_height +"), sign(SKIN)),
    "seat_cushion": FixCase(
        {S + "surface": "hard"}, ("seat_pressure_severity -", "elbow_height +"), sign(SKIN)
    ),
    "seat_wedge": FixCase(
        {S + "surface": "hard"},
        ("seat_pressure_severity -", "eye_height +"),
        {S + "slope": "-8"},
        ("anti_slip_mat",),
    ),
    "seat_air": FixCase(
        {}, ("elbow_height +", "seat_pressure_severity 0"), {S + "base": "wheels"}, ("anti_slip_mat",)
    ),
    "text_size_up": FixCase(
        {T + "viewing_distance": "800"}, ("trunk_inclination@screen -",), {T + "main": "paper"}
    ),
}
