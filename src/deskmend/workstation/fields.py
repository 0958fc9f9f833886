"""The fields of a workstation's state: what a fix may change and a posture may read.

A field belongs to a level: the person, the devices, a place or a task. Its
dotted name is what cases and catalogs write; its symbol is the name by which a
posture function asks for it as a parameter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from deskmend.errors import DefectError
from deskmend.intake.reading.fields import UNKNOWN, ranges

__all__ = ["FIELDS", "KEPT_UP", "LAPSED", "SYMBOLS", "Field", "Level", "Value"]

Level = Literal["person", "device", "place", "task"]
Value = float | str
"""A number (length [mm], angle [deg], share [-] ...) or a category."""


@dataclass(frozen=True)
class Field:
    """One field of the state.

    Attributes
    ----------
    name : str
        Dotted name, as in case and catalog files.
    level : str
        ``person``, ``device``, ``place`` or ``task``.
    unit : str
        Unit of a number, empty for a category.
    words : tuple of str
        Allowed categories; empty for a number.
    low, high : float
        Range of a number that the model accepts: never less than a case may tell.
    text : str
        What it is, in one line.
    """

    name: str
    level: Level
    unit: str
    text: str
    words: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0

    @property
    def symbol(self) -> str:
        """Parameter name in posture functions."""
        return self.name.replace("body.", "").replace(".", "_")

    @property
    def is_number(self) -> bool:
        """True for a number, False for a category."""
        return not self.words


def _number(
    name: str,
    level: Level,
    unit: str,
    text: str,
    low: float | None = None,
    high: float | None = None,
    told: str = "",
) -> Field:
    """Field with a number: what a case may tell, and beyond it what only fixes and estimates come to.

    `told` is the row of ``ranges.csv`` where its name is another than the field's; `low` and `high` are ends
    that no case can tell, as 0 where there is none of a thing.
    """
    case = ranges().get(told or name)
    ends = (
        (low, high)
        if case is None
        else (case.low if low is None else low, case.high if high is None else high)
    )
    if ends[0] is None or ends[1] is None:
        raise DefectError(f"no case tells {name}, so both its ends must be said")
    return Field(name, level, unit, text, (), ends[0], ends[1])


def _word(name: str, level: Level, words: str, text: str) -> Field:
    return Field(name, level, "", text, (*words.split(), UNKNOWN))


_HANDS = "left right"

_ALL: tuple[Field, ...] = (
    # the person
    _number("body.sitting_eye_height", "person", "mm", "seat to eye, upright", high=1200),
    _number("body.sitting_elbow_height", "person", "mm", "seat to elbow, arm hanging", 80, 450),
    _number("body.sitting_shoulder_height", "person", "mm", "seat to shoulder", high=900),
    _number("body.popliteal_height", "person", "mm", "floor to the hollow of the knee, barefoot", high=700),
    _number("body.knee_height", "person", "mm", "floor to the top of the knee, barefoot", high=800),
    _number("body.buttock_popliteal_length", "person", "mm", "back to the hollow of the knee", high=800),
    _number("body.buttock_knee_length", "person", "mm", "back to the front of the knee, sitting", 300, 900),
    _number("body.abdominal_depth", "person", "mm", "back to the front of the belly, sitting", 120, 600),
    _number("body.thigh_clearance", "person", "mm", "seat to the top of the thigh"),
    _number("body.shoulder_elbow_length", "person", "mm", "shoulder to elbow", high=550),
    _number("body.forearm_hand_length", "person", "mm", "elbow to fingertip", high=700),
    _number("body.forearm_length", "person", "mm", "elbow to wrist", 120, 420),
    _number("body.biacromial_breadth", "person", "mm", "shoulder joint to shoulder joint", 200, 600),
    _number("body.standing_eye_height", "person", "mm", "floor to eye, standing barefoot", low=800),
    _number("body.standing_elbow_height", "person", "mm", "floor to elbow, standing barefoot", 500, 1600),
    _number("person.shoes", "person", "mm", "thickness of what is worn on the feet"),
    _word("person.writing_hand", "person", _HANDS, "hand that writes"),
    _word("person.mouse_hand", "person", _HANDS, "hand at the mouse"),
    _word("person.weak_side", "person", "none left right", "side of the body that is weak"),
    _word("person.cannot_stand", "person", "yes no", "cannot stand up or stand at work"),
    _word("person.eyewear", "person", "none single_vision multifocal", "glasses worn at work"),
    _word("room.shared", "person", "yes no", "others are in the room during the work"),
    # the devices
    _word("laptop.kind", "device", "laptop tablet none", "what is meant by the laptop; a tablet is typed on"),
    _number("laptop.screen_top", "device", "mm", "laptop: base to top edge of the picture"),
    _number("laptop.screen_height", "device", "mm", "laptop: height of the picture"),
    _number("laptop.keys", "device", "mm", "laptop: base to the keys"),
    _number("laptop.depth", "device", "mm", "laptop: front to back"),
    _number("monitor.top", "device", "mm", "monitor: foot to top edge of the picture"),
    _number("monitor.height", "device", "mm", "monitor: height of the picture"),
    _number("laptop.angle", "device", "deg", "laptop: aside from straight ahead", told="screen.angle"),
    _number("monitor.angle", "device", "deg", "monitor: aside from straight ahead", told="screen.angle"),
    _word("second.kind", "device", "laptop monitor tablet other none", "screen looked at beside the first"),
    _number(
        "second.top",
        "device",
        "mm",
        "second screen: foot to top edge of the picture",
        told="screen.top",
        low=10,
    ),
    _number(
        "second.height", "device", "mm", "second screen: height of the picture", told="screen.height", low=5
    ),
    _number("second.angle", "device", "deg", "second screen: aside from straight ahead", told="screen.angle"),
    _number("second.distance", "device", "mm", "eye to the second screen, level", told="screen.distance"),
    _word("second.used", "device", "yes no", "the second screen is on; else all is shown on the first"),
    _word("screen.tool", "device", "laptop monitor none", "screen that a stand or stack at a place is for"),
    _word("keyboard", "device", "built_in separate", "which keyboard is typed on"),
    _number(
        "keyboard.height",
        "device",
        "mm",
        "separate keyboard: table to the home row",
        told="keyboard_size.height",
    ),
    _word("keyboard.number_pad", "device", "yes no", "separate keyboard has a number pad"),
    _word("mouse", "device", "touchpad separate", "what moves the pointer"),
    _number(
        "mouse.offset",
        "device",
        "mm",
        "mouse: sideways from the middle of the body",
        told="devices.mouse_offset",
    ),
    _word("phone", "device", "none hand cradled headset", "how the telephone is held"),
    # a place: seat
    _word("place.kind", "place", "desk sofa floor bed worktop bar", "what kind of place it is"),
    _number("stand_share", "place", "-", "part of the working time there spent standing", 0, 1),
    _number(
        "sitting_spell", "place", "min", "longest time there without getting up", told="place.sitting_spell"
    ),
    _number("kept_up", "place", "-", "part of the days on which a habit there is kept, 1 without one", 0, 1),
    _number("lapsed.stand_share", "place", "-", "standing there on days when no habit is kept", 0, 1),
    _number(
        "lapsed.sitting_spell",
        "place",
        "min",
        "longest sitting there on such days",
        told="place.sitting_spell",
    ),
    _number("seat.height", "place", "mm", "floor to the loaded front edge of the seat", 0, 1100),
    _number("seat.depth", "place", "mm", "front edge to backrest"),
    _number("seat.slope", "place", "deg", "tilt of the seat, positive down to the back"),
    _number("seat.pad", "place", "mm", "height that padding adds under load", 0, 150),
    _number("seat.pressure", "place", "-", "hardness: bare hard 1, thin pad 0.6, foam 0.3", 0, 1),
    _word("seat.loose", "place", "yes no", "what lies on the seat can slide"),
    _word("seat.held", "place", "yes no", "something keeps what lies on the seat from sliding"),
    _number("seat.foot_ring", "place", "mm", "foot ring of the seat above the floor; 0 none", low=0),
    _word("seat.back", "place", "none flat shaped", "the chair's own backrest"),
    _number("seat.recline", "place", "deg", "backrest from the vertical"),
    _word("seat.armrests", "place", "none fixed adjustable", "armrests"),
    _number("seat.armrest_height", "place", "mm", "bare seat to the top of the armrests"),
    _word("seat.adjustable", "place", "yes no", "the height of the seat can be set"),
    _word("seat.base", "place", "legs folding wheels glides stool wheelchair", "what the seat stands on"),
    _word(
        "seat.material", "place", "wood metal plastic upholstered woven other", "what the chair is made of"
    ),
    _word("seat.surface", "place", "hard thin_pad foam", "the seat's own surface"),
    _number(
        "seat.lumbar_depth",
        "place",
        "mm",
        "bulge of the chair's own back at belt height",
        told="lumbar.depth",
        low=0,
    ),
    _number("back.roll", "place", "mm", "bulge of a roll or cushion added there, leant upon; 0 none", 0, 150),
    _word("back.tied", "place", "yes no", "the roll or cushion is tied to the backrest"),
    _number("back.depth_taken", "place", "mm", "seat depth taken by what lies behind the back", 0, 250),
    # a place: feet and desk
    _number(
        "feet.height",
        "place",
        "mm",
        "floor to what the feet rest on, if no foot ring or bar",
        told="place.feet_on",
    ),
    _word("feet.rest", "place", "yes no", "the feet rest on something"),
    _word("feet.on", "place", "floor foot_bar foot_ring nothing other", "what the feet rest on"),
    _number("desk.height", "place", "mm", "floor to the desk top"),
    _number("lap.rise", "place", "mm", "what carries the work on the lap, above the thighs", 0, 150),
    _number("desk.frame", "place", "mm", "desk top down to its lowest part over the thighs", 3, 1200),
    _number("desk.top_thickness", "place", "mm", "thickness of the top at its front edge"),
    _number("desk.depth", "place", "mm", "front to back"),
    _number("desk.width", "place", "mm", "left to right"),
    _number("desk.tilt", "place", "deg", "desk top raised at the back", 0, 20),
    _word("desk.edge", "place", "sharp rounded padded", "front edge"),
    _word("desk.top", "place", "wood board glass metal stone plastic other", "material of the top"),
    _word("desk.legs", "place", "fixed folding trestle height_adjustable built_in lap", "legs of the desk"),
    _word("desk.adjustable", "place", "yes no", "the height of the desk can be set"),
    _number("desk.foot_bar", "place", "mm", "bar between the desk legs above the floor; 0 none", low=0),
    _word("desk.bar_blocks", "place", "yes no", "the bar keeps the feet from the floor under the desk"),
    _number("desk.leg_depth", "place", "mm", "free depth for the legs"),
    _number("desk.leg_width", "place", "mm", "free width for the legs"),
    _number("keyboard.drop", "place", "mm", "keyboard shelf below the desk top", 0, 200),
    _number(
        "desk.lap_lost", "place", "mm", "space over the thighs taken by what hangs under the top", 0, 250
    ),
    _word("arms.supported", "place", "yes no", "the forearms rest while working"),
    _number("screen.raise", "place", "mm", "height of what the screen stands on", 0, 600),
    _number("second.raise", "place", "mm", "height of what the second screen stands on", 0, 400),
    _number("laptop.incline", "place", "deg", "laptop raised at its back, own keys used", 0, 30),
    _number("light.lux", "place", "lux", "light on the work"),
    _word(
        "light.glare",
        "place",
        "none window_behind window_ahead window_beside lamp",
        "what dazzles or mirrors",
    ),
    # a task
    _number("task.hours", "task", "h", "hours a day", low=0),
    _number("task.spell", "task", "min", "longest unbroken spell"),
    _number(
        "lapsed.task_spell", "task", "min", "longest spell on days when no habit is kept", told="task.spell"
    ),
    _word("task.screen", "task", "laptop monitor none", "screen that is looked at"),
    _word("task.middle", "task", "screen paper both", "what lies in the middle of the desk"),
    _number("look.screen", "task", "-", "part of the looking time at the screen", told="task.share"),
    _number("look.second", "task", "-", "part of the looking time at the second screen", told="task.share"),
    _number("look.paper", "task", "-", "part of the looking time at paper", told="task.share"),
    _number("hands.keys", "task", "-", "part of the time at the keys", told="task.share"),
    _number("hands.mouse", "task", "-", "part of the time at mouse or touchpad", told="task.share"),
    _number("hands.writing", "task", "-", "part of the time writing by hand", told="task.share"),
    _number(
        "task.viewing_distance", "task", "mm", "eye to screen, level, body at the desk and nothing between"
    ),
    _word("task.screen_set", "task", "yes no", "the screen was set as far from the eye as wanted"),
    _number("task.phone_share", "task", "-", "part of the time on the telephone", told="task.share"),
    _word("paper.side", "task", "left right", "side of the desk for paper, if not in the middle"),
    _number("paper.distance", "task", "mm", "front edge to the middle of the paper, nothing before it"),
    _number("paper.slope", "task", "deg", "slope of the paper"),
    _number("paper.base", "task", "mm", "height of the paper's lower edge above the desk", 0, 300),
    _number("scores.wrist_twist", "task", "-", "RULA: forearm turned to the end of its range 2, else 1"),
    _number("scores.force", "task", "-", "RULA: points for force or load"),
    _number("scores.repeats_per_minute", "task", "1/min", "RULA: repeats of one movement"),
    _word("scores.wrist_deviated", "task", "yes no", "hands bent sideways at the wrist"),
    _word("scores.neck_bent", "task", "yes no", "head bent to one side"),
    _word("scores.trunk_bent", "task", "yes no", "trunk bent to one side"),
    _word("scores.armrest_hard", "task", "yes no", "armrests hard or damaged"),
    _word("scores.armrest_wide", "task", "yes no", "armrests too far apart"),
    _word("scores.seat_depth_adjustable", "task", "yes no", "depth of the seat can be set"),
    _word("scores.back_adjustable", "task", "yes no", "backrest can be set"),
    _word("scores.mouse_small", "task", "yes no", "mouse pinched, being small"),
    _word("scores.palm_rest", "task", "yes no", "palm rest in front of the mouse"),
    _word("scores.reach_overhead", "task", "yes no", "things used hang overhead"),
    _number("scores.phone_reach", "task", "mm", "hand to the telephone"),
    _word("scores.hands_free", "task", "yes no", "telephone usable without holding it"),
    _number("text.scale", "task", "-", "size of the text, 1 as it is now", 0.5, 3),
)

FIELDS: dict[str, Field] = {f.name: f for f in _ALL}
"""Every field by its dotted name."""

LAPSED = {
    "stand_share": "lapsed.stand_share",
    "sitting_spell": "lapsed.sitting_spell",
    "task.spell": "lapsed.task_spell",
}
"""What a habit may change, and the same on days when it is not kept; anything else changes both alike."""

KEPT_UP = "kept_up"
"""Field of a place: the part of the days on which its habit is kept."""

SYMBOLS: dict[str, Field] = {f.symbol: f for f in _ALL}
"""Every field by the parameter name that posture functions use."""
