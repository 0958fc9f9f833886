"""The fields of a workstation's state: what a fix may change and a posture may read.

A field belongs to a level: the person, the devices, a place or a task. Its
dotted name is what cases and catalogs write; its symbol is the name by which a
posture function asks for it as a parameter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["FIELDS", "KEPT_UP", "LAPSED", "SYMBOLS", "UNKNOWN", "Field", "Level", "Value"]

Level = Literal["person", "device", "place", "task"]
Value = float | str
"""A number (length [mm], angle [deg], share [-] ...) or a category."""

UNKNOWN = "unknown"
"""Category of what nobody told; never equal to anything a rule asks for."""


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
        Range of a number that the model accepts.
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


def _number(name: str, level: Level, unit: str, low: float, high: float, text: str) -> Field:
    return Field(name, level, unit, text, (), low, high)


def _word(name: str, level: Level, words: str, text: str) -> Field:
    return Field(name, level, "", text, (*words.split(), UNKNOWN))


_HANDS = "left right"

_ALL: tuple[Field, ...] = (
    # the person
    _number("body.sitting_eye_height", "person", "mm", 400, 1200, "seat to eye, upright"),
    _number("body.sitting_elbow_height", "person", "mm", 80, 450, "seat to elbow, arm hanging"),
    _number("body.sitting_shoulder_height", "person", "mm", 300, 900, "seat to shoulder"),
    _number("body.popliteal_height", "person", "mm", 200, 700, "floor to the hollow of the knee, barefoot"),
    _number("body.knee_height", "person", "mm", 250, 800, "floor to the top of the knee, barefoot"),
    _number("body.buttock_popliteal_length", "person", "mm", 250, 800, "back to the hollow of the knee"),
    _number("body.buttock_knee_length", "person", "mm", 300, 900, "back to the front of the knee, sitting"),
    _number("body.abdominal_depth", "person", "mm", 120, 600, "back to the front of the belly, sitting"),
    _number("body.thigh_clearance", "person", "mm", 60, 350, "seat to the top of the thigh"),
    _number("body.shoulder_elbow_length", "person", "mm", 180, 550, "shoulder to elbow"),
    _number("body.forearm_hand_length", "person", "mm", 250, 700, "elbow to fingertip"),
    _number("body.forearm_length", "person", "mm", 120, 420, "elbow to wrist"),
    _number("body.biacromial_breadth", "person", "mm", 200, 600, "shoulder joint to shoulder joint"),
    _number("body.standing_eye_height", "person", "mm", 800, 2200, "floor to eye, standing barefoot"),
    _number("body.standing_elbow_height", "person", "mm", 500, 1600, "floor to elbow, standing barefoot"),
    _number("person.shoes", "person", "mm", 0, 120, "thickness of what is worn on the feet"),
    _word("person.writing_hand", "person", _HANDS, "hand that writes"),
    _word("person.mouse_hand", "person", _HANDS, "hand at the mouse"),
    _word("person.cannot_stand", "person", "yes no", "cannot stand up or stand at work"),
    _word("person.eyewear", "person", "none single_vision multifocal", "glasses worn at work"),
    _word("room.shared", "person", "yes no", "others are in the room during the work"),
    # the devices
    _number("laptop.screen_top", "device", "mm", 5, 600, "laptop: base to top edge of the picture"),
    _number("laptop.screen_height", "device", "mm", 5, 500, "laptop: height of the picture"),
    _number("laptop.keys", "device", "mm", 5, 80, "laptop: base to the keys"),
    _number("laptop.depth", "device", "mm", 100, 500, "laptop: front to back"),
    _number("monitor.top", "device", "mm", 20, 1500, "monitor: foot to top edge of the picture"),
    _number("monitor.height", "device", "mm", 20, 1000, "monitor: height of the picture"),
    _number("laptop.angle", "device", "deg", 0, 90, "laptop: aside from straight ahead"),
    _number("monitor.angle", "device", "deg", 0, 90, "monitor: aside from straight ahead"),
    _word("second.kind", "device", "laptop monitor tablet other none", "screen looked at beside the first"),
    _number("second.top", "device", "mm", 50, 1500, "second screen: foot to top edge of the picture"),
    _number("second.height", "device", "mm", 50, 1000, "second screen: height of the picture"),
    _number("second.angle", "device", "deg", 0, 90, "second screen: aside from straight ahead"),
    _number("second.distance", "device", "mm", 150, 3000, "eye to the second screen, level"),
    _word("second.used", "device", "yes no", "the second screen is on; else all is shown on the first"),
    _word("screen.tool", "device", "laptop monitor none", "screen that a stand or stack at a place is for"),
    _word("keyboard", "device", "built_in separate", "which keyboard is typed on"),
    _number("keyboard.height", "device", "mm", 5, 80, "separate keyboard: table to the home row"),
    _word("keyboard.number_pad", "device", "yes no", "separate keyboard has a number pad"),
    _word("mouse", "device", "touchpad separate", "what moves the pointer"),
    _number("mouse.offset", "device", "mm", 0, 900, "mouse: sideways from the middle of the body"),
    _word("phone", "device", "none hand cradled headset", "how the telephone is held"),
    # a place: seat
    _word("place.kind", "place", "desk sofa floor bed worktop bar", "what kind of place it is"),
    _number("stand_share", "place", "-", 0, 1, "part of the working time there spent standing"),
    _number("sitting_spell", "place", "min", 1, 900, "longest time there without getting up"),
    _number("kept_up", "place", "-", 0, 1, "part of the days on which a habit there is kept, 1 without one"),
    _number("lapsed.stand_share", "place", "-", 0, 1, "standing there on days when no habit is kept"),
    _number("lapsed.sitting_spell", "place", "min", 1, 900, "longest sitting there on such days"),
    _number("seat.height", "place", "mm", 0, 1100, "floor to the loaded front edge of the seat"),
    _number("seat.depth", "place", "mm", 150, 800, "front edge to backrest"),
    _number("seat.slope", "place", "deg", -15, 15, "tilt of the seat, positive down to the back"),
    _number("seat.pad", "place", "mm", 0, 150, "height that padding adds under load"),
    _number("seat.pressure", "place", "-", 0, 1, "hardness: bare hard 1, thin pad 0.6, foam 0.3"),
    _word("seat.loose", "place", "yes no", "what lies on the seat can slide"),
    _word("seat.held", "place", "yes no", "something keeps what lies on the seat from sliding"),
    _number("seat.foot_ring", "place", "mm", 0, 700, "foot ring of the seat above the floor; 0 none"),
    _word("seat.back", "place", "none flat shaped", "the chair's own backrest"),
    _number("seat.recline", "place", "deg", 0, 60, "backrest from the vertical"),
    _word("seat.armrests", "place", "none fixed adjustable", "armrests"),
    _number("seat.armrest_height", "place", "mm", 50, 500, "bare seat to the top of the armrests"),
    _word("seat.adjustable", "place", "yes no", "the height of the seat can be set"),
    _word("seat.base", "place", "legs folding wheels glides stool wheelchair", "what the seat stands on"),
    _word(
        "seat.material", "place", "wood metal plastic upholstered woven other", "what the chair is made of"
    ),
    _word("seat.surface", "place", "hard thin_pad foam", "the seat's own surface"),
    _number("seat.lumbar_depth", "place", "mm", 0, 150, "bulge of the chair's own back at belt height"),
    _number("back.roll", "place", "mm", 0, 150, "bulge of a roll or cushion added there, leant upon; 0 none"),
    _word("back.tied", "place", "yes no", "the roll or cushion is tied to the backrest"),
    _number("back.depth_taken", "place", "mm", 0, 250, "seat depth taken by what lies behind the back"),
    # a place: feet and desk
    _number("feet.height", "place", "mm", 0, 700, "floor to what the feet rest on, if no foot ring or bar"),
    _word("feet.rest", "place", "yes no", "the feet rest on something"),
    _word("feet.on", "place", "floor foot_bar foot_ring nothing other", "what the feet rest on"),
    _number("desk.height", "place", "mm", 150, 1500, "floor to the desk top"),
    _number("lap.rise", "place", "mm", 0, 150, "what carries the work on the lap, above the thighs"),
    _number("desk.frame", "place", "mm", 5, 400, "desk top down to its lowest part over the thighs"),
    _number("desk.top_thickness", "place", "mm", 3, 400, "thickness of the top at its front edge"),
    _number("desk.depth", "place", "mm", 200, 1500, "front to back"),
    _number("desk.width", "place", "mm", 300, 4000, "left to right"),
    _number("desk.tilt", "place", "deg", 0, 20, "desk top raised at the back"),
    _word("desk.edge", "place", "sharp rounded padded", "front edge"),
    _word("desk.top", "place", "wood board glass metal stone plastic other", "material of the top"),
    _word("desk.legs", "place", "fixed folding trestle height_adjustable built_in lap", "legs of the desk"),
    _word("desk.adjustable", "place", "yes no", "the height of the desk can be set"),
    _number("desk.foot_bar", "place", "mm", 0, 700, "bar between the desk legs above the floor; 0 none"),
    _word("desk.bar_blocks", "place", "yes no", "the bar keeps the feet from the floor under the desk"),
    _number("desk.leg_depth", "place", "mm", 0, 1500, "free depth for the legs"),
    _number("desk.leg_width", "place", "mm", 0, 4000, "free width for the legs"),
    _number("keyboard.drop", "place", "mm", 0, 200, "keyboard shelf below the desk top"),
    _number(
        "desk.lap_lost", "place", "mm", 0, 250, "space over the thighs taken by what hangs under the top"
    ),
    _word("arms.supported", "place", "yes no", "the forearms rest while working"),
    _number("screen.raise", "place", "mm", 0, 600, "height of what the screen stands on"),
    _number("second.raise", "place", "mm", 0, 400, "height of what the second screen stands on"),
    _number("laptop.incline", "place", "deg", 0, 30, "laptop raised at its back, own keys used"),
    _number("light.lux", "place", "lux", 0, 20000, "light on the work"),
    _word(
        "light.glare",
        "place",
        "none window_behind window_ahead window_beside lamp",
        "what dazzles or mirrors",
    ),
    # a task
    _number("task.hours", "task", "h", 0, 24, "hours a day"),
    _number("task.spell", "task", "min", 1, 900, "longest unbroken spell"),
    _number("lapsed.task_spell", "task", "min", 1, 900, "longest spell on days when no habit is kept"),
    _word("task.screen", "task", "laptop monitor none", "screen that is looked at"),
    _word("task.middle", "task", "screen paper both", "what lies in the middle of the desk"),
    _number("look.screen", "task", "-", 0, 1, "part of the looking time at the screen"),
    _number("look.second", "task", "-", 0, 1, "part of the looking time at the second screen"),
    _number("look.paper", "task", "-", 0, 1, "part of the looking time at paper"),
    _number("hands.keys", "task", "-", 0, 1, "part of the time at the keys"),
    _number("hands.mouse", "task", "-", 0, 1, "part of the time at mouse or touchpad"),
    _number("hands.writing", "task", "-", 0, 1, "part of the time writing by hand"),
    _number(
        "task.viewing_distance",
        "task",
        "mm",
        150,
        2000,
        "eye to screen, level, body at the desk and nothing between",
    ),
    _word("task.screen_set", "task", "yes no", "the screen was set as far from the eye as wanted"),
    _number("task.phone_share", "task", "-", 0, 1, "part of the time on the telephone"),
    _word("paper.side", "task", "left right", "side of the desk for paper, if not in the middle"),
    _number(
        "paper.distance", "task", "mm", 0, 2000, "front edge to the middle of the paper, nothing before it"
    ),
    _number("paper.slope", "task", "deg", 0, 85, "slope of the paper"),
    _number("paper.base", "task", "mm", 0, 300, "height of the paper's lower edge above the desk"),
    _number(
        "scores.wrist_twist", "task", "-", 1, 2, "RULA: forearm turned to the end of its range 2, else 1"
    ),
    _number("scores.force", "task", "-", 0, 3, "RULA: points for force or load"),
    _number("scores.repeats_per_minute", "task", "1/min", 0, 1000, "RULA: repeats of one movement"),
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
    _number("scores.phone_reach", "task", "mm", 0, 5000, "hand to the telephone"),
    _word("scores.hands_free", "task", "yes no", "telephone usable without holding it"),
    _number("text.scale", "task", "-", 0.5, 3, "size of the text, 1 as it is now"),
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
