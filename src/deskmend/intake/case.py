"""The records of a case: one person, the places and devices, the tasks, and the means at hand.

Numbers left out are None and words left out are ``unknown``; nothing is filled in here. Lengths are whole
or broken millimetres as measured. Ranges stand in ``tables/ranges.csv``. What a field says stands under it,
and is shown to people too: in the notes of an empty table of applicants.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, PrivateAttr

from deskmend.errors import Fault
from deskmend.intake.reading.fields import (
    CURRENCY,
    FIX_NAME,
    ID,
    MONEY,
    OWNED,
    YES_NO,
    Owned,
    count,
    free_text,
    span,
    word,
)
from deskmend.intake.reading.records import Record, fault_at, likely, measured, name_of, word_or_measured
from deskmend.intake.reading.yaml_tree import Loc, YamlTree, to_plain
from deskmend.measures import Deg, Hours, Minor, Minutes, Mm

Region = Literal[
    "eyes", "neck", "shoulders", "arms_hands", "upper_back", "lower_back", "hips_thighs", "legs_feet"
]
Sex = Literal["female", "male", "unknown"]
Hand = Literal["left", "right", "unknown"]
Side = Literal["none", "left", "right", "unknown"]
Path = tuple[str | int, ...]
"""Where a value stands in a case: names of fields, and positions in lists."""
Eyewear = Literal["none", "single_vision", "multifocal", "unknown"]


class BodyMeasures(Record):
    """Body dimensions measured without shoes, upright; those left out are estimated later."""

    popliteal_height: Annotated[Mm, measured("body.popliteal_height")] | None = None
    """Floor to the hollow of the knee, sitting [mm]."""
    sitting_elbow_height: Annotated[Mm, measured("body.sitting_elbow_height")] | None = None
    """Seat to the underside of the bent elbow [mm]."""
    sitting_eye_height: Annotated[Mm, measured("body.sitting_eye_height")] | None = None
    """Seat to the eye [mm]."""
    sitting_shoulder_height: Annotated[Mm, measured("body.sitting_shoulder_height")] | None = None
    """Seat to the top of the shoulder [mm]."""
    buttock_popliteal_length: Annotated[Mm, measured("body.buttock_popliteal_length")] | None = None
    """Back of the buttock to the hollow of the knee, sitting [mm]."""
    thigh_clearance: Annotated[Mm, measured("body.thigh_clearance")] | None = None
    """Seat to the top of the thigh [mm]."""
    knee_height: Annotated[Mm, measured("body.knee_height")] | None = None
    """Floor to the top of the knee, sitting [mm]."""
    shoulder_elbow_length: Annotated[Mm, measured("body.shoulder_elbow_length")] | None = None
    """Top of the shoulder to the underside of the bent elbow [mm]."""
    forearm_hand_length: Annotated[Mm, measured("body.forearm_hand_length")] | None = None
    """Back of the bent elbow to the fingertips [mm]."""
    standing_elbow_height: Annotated[Mm, measured("body.standing_elbow_height")] | None = None
    """Floor to the underside of the bent elbow, standing [mm]."""
    standing_eye_height: Annotated[Mm, measured("body.standing_eye_height")] | None = None
    """Floor to the eye, standing [mm]."""


class Discomfort(Record):
    """How much each region troubles the person, 0 not at all to 10 as badly as can be."""

    eyes: Annotated[int, count("person.discomfort")] | None = None
    """Eyes [-]."""
    neck: Annotated[int, count("person.discomfort")] | None = None
    """Neck [-]."""
    shoulders: Annotated[int, count("person.discomfort")] | None = None
    """Shoulders [-]."""
    arms_hands: Annotated[int, count("person.discomfort")] | None = None
    """Arms, wrists and hands [-]."""
    upper_back: Annotated[int, count("person.discomfort")] | None = None
    """Upper back [-]."""
    lower_back: Annotated[int, count("person.discomfort")] | None = None
    """Lower back [-]."""
    hips_thighs: Annotated[int, count("person.discomfort")] | None = None
    """Hips, buttocks and thighs [-]."""
    legs_feet: Annotated[int, count("person.discomfort")] | None = None
    """Knees, lower legs and feet [-]."""


class Person(Record):
    """Who works here."""

    stature: Annotated[Mm, measured("person.stature")]
    """Height standing upright, without shoes [mm]."""
    sex: Annotated[Sex, word(Sex)] = "unknown"
    """Which body data estimates follow [-]."""
    mass: Annotated[float, measured("person.mass")] | None = None
    """Weight of the body [kg]."""
    age: Annotated[int, count("person.age")] | None = None
    """Age [years]."""
    cannot_stand: Annotated[bool, YES_NO] | None = None
    """Whether the person cannot stand up or stand at work [-]."""
    work_days: Annotated[float, measured("person.work_days")] | None = None
    """Working days a week, for tasks that are not done on all of them; 5 if left out [-]."""
    weak_side: Annotated[Side, word(Side)] = "unknown"
    """Side of the body that is weak [-]."""
    shoes: Annotated[Mm, measured("person.shoes")] | None = None
    """Thickness of the heels worn at work [mm]."""
    writing_hand: Annotated[Hand, word(Hand)] = "unknown"
    """Hand that writes [-]."""
    mouse_hand: Annotated[Hand, word(Hand)] = "unknown"
    """Hand on the mouse [-]."""
    eyewear: Annotated[Eyewear, word(Eyewear)] = "unknown"
    """Glasses worn at the screen; progressive and bifocal ones are multifocal [-]."""
    body: BodyMeasures = BodyMeasures()
    """Body dimensions measured [mm]."""
    discomfort: Discomfort = Discomfort()
    """Discomfort by region, 0 to 10 [-]."""
    warning_signs: Annotated[tuple[Annotated[str, ID], ...], Field(max_length=50)] = ()
    """Ids of the warning signs that apply; which there are stands in the catalog's screening [-]."""

    @property
    def likely_stature(self) -> Mm:
        """Height as it most likely is: people who tell theirs add to it [mm]."""
        return likely(self.stature, "person.stature")


Surface = Literal["hard", "thin_pad", "foam", "unknown"]
SlopeWord = Literal["flat", "back", "forward", "unknown"]
Back = Literal["none", "flat", "shaped", "unknown"]
Armrests = Literal["none", "fixed", "adjustable", "unknown"]
Base = Literal["legs", "folding", "wheels", "glides", "stool", "wheelchair", "unknown"]
SeatMaterial = Literal["wood", "metal", "plastic", "upholstered", "woven", "other", "unknown"]
Top = Literal["wood", "board", "glass", "metal", "stone", "plastic", "other", "unknown"]
DeskLegs = Literal["fixed", "folding", "trestle", "height_adjustable", "built_in", "lap", "unknown"]
Edge = Literal["sharp", "rounded", "unknown"]
PlaceKind = Literal["desk", "sofa", "floor", "bed", "worktop", "bar", "unknown"]
Posture = Literal["sit", "stand", "both", "unknown"]
FeetOn = Literal["floor", "foot_bar", "foot_ring", "nothing", "unknown"]
Glare = Literal["none", "window_behind", "window_ahead", "window_beside", "lamp", "unknown"]


class Lumbar(Record):
    """Where the back of the seat bulges to carry the hollow of the back."""

    height: Annotated[Mm, measured("lumbar.height")]
    """Middle of the bulge above the seat [mm]."""
    depth: Annotated[Mm, measured("lumbar.depth")]
    """How far it stands out from the back [mm]."""


class Seat(Record):
    """A chair, stool or bench as it is now."""

    height: Annotated[Mm, measured("seat.height")]
    """Front edge above the floor, sat upon [mm]."""
    height_range: Annotated[tuple[Mm, Mm], span("seat.height")] | None = None
    """Lowest and highest setting of the front edge; None where it cannot be set, or unknown [mm]."""
    depth: Annotated[Mm, measured("seat.depth")] | None = None
    """Front edge to the back [mm]."""
    surface: Annotated[Surface, word(Surface)] = "unknown"
    """What one sits on [-]."""
    slope: Annotated[Deg | SlopeWord, word_or_measured(SlopeWord, "seat.slope")] = "unknown"
    """Fall of the seat towards the back: a word, or an angle, positive towards the back [deg]."""
    slope_range: Annotated[tuple[Deg, Deg], span("seat.slope")] | None = None
    """Least and most fall of a seat whose tilt can be set; None where it cannot be set, or unknown [deg]."""
    back: Annotated[Back, word(Back)] = "unknown"
    """Shape of the back [-]."""
    recline: Annotated[Deg, measured("seat.recline")] | None = None
    """Lean of the back from upright [deg]."""
    recline_range: Annotated[tuple[Deg, Deg], span("seat.recline")] | None = None
    """Least and most lean of a back that can be set; None where it cannot be set, or unknown [deg]."""
    back_height: Annotated[Mm, measured("seat.back_height")] | None = None
    """Top of the back above the seat [mm]."""
    lumbar: Lumbar | None = None
    """Support of the hollow of the back [mm]."""
    armrests: Annotated[Armrests, word(Armrests)] = "unknown"
    """Armrests [-]."""
    armrest_height: Annotated[Mm, measured("seat.armrest_height")] | None = None
    """Top of the armrests above the seat [mm]."""
    armrest_range: Annotated[tuple[Mm, Mm], span("seat.armrest_height")] | None = None
    """Lowest and highest setting of armrests that can be set; None where they cannot be, or unknown [mm]."""
    foot_ring: Annotated[Mm, measured("seat.foot_ring")] | None = None
    """Foot ring or rung above the floor [mm]."""
    adjustable: Annotated[bool, YES_NO] | None = None
    """Whether its height can be set [-]."""
    base: Annotated[Base, word(Base)] = "unknown"
    """What it stands on [-]."""
    material: Annotated[SeatMaterial, word(SeatMaterial)] = "unknown"
    """What it is made of [-]."""
    shared_with: Annotated[tuple[Person, ...], Field(max_length=10)] = ()
    """Further persons who use it [-]."""


class OtherSeat(Seat):
    """A seat at hand that is not used at this place now."""

    id: Annotated[str, ID]
    """Name of the seat [-]."""


class Desk(Record):
    """A desk or table as it is now."""

    height: Annotated[Mm, measured("desk.height")]
    """Top surface above the floor [mm]."""
    height_range: Annotated[tuple[Mm, Mm], span("desk.height")] | None = None
    """Lowest and highest setting; None where it cannot be set, or unknown [mm]."""
    underside: Annotated[Mm, measured("desk.underside")] | None = None
    """Lowest part above the thighs, frame and drawer included, above the floor [mm]."""
    top_thickness: Annotated[Mm, measured("desk.top_thickness")] | None = None
    """Thickness of the top at its front edge, without the frame [mm]."""
    depth: Annotated[Mm, measured("desk.depth")] | None = None
    """Front edge to the rear edge or wall [mm]."""
    width: Annotated[Mm, measured("desk.width")] | None = None
    """Side to side [mm]."""
    leg_depth: Annotated[Mm, measured("desk.leg_depth")] | None = None
    """Room for knees and feet behind the front edge [mm]."""
    leg_width: Annotated[Mm, measured("desk.leg_width")] | None = None
    """Room for the legs side to side [mm]."""
    foot_bar: Annotated[Mm, measured("desk.foot_bar")] | None = None
    """Bar to rest the feet on, above the floor [mm]."""
    foot_bar_setback: Annotated[Mm, measured("desk.foot_bar_setback")] | None = None
    """Bar behind the front edge of the desk [mm]."""
    top: Annotated[Top, word(Top)] = "unknown"
    """What the top is made of; board is any pressed wood [-]."""
    legs: Annotated[DeskLegs, word(DeskLegs)] = "unknown"
    """How it stands; a worktop or shelf fixed to the wall is built_in, one's own thighs are lap [-]."""
    edge: Annotated[Edge, word(Edge)] = "unknown"
    """Front edge [-]."""
    tiltable: Annotated[bool, YES_NO] | None = None
    """Whether the top can be tilted [-]."""
    shared_with: Annotated[tuple[Person, ...], Field(max_length=10)] = ()
    """Further persons who work at it, in turns [-]."""


class Light(Record):
    """Light at the place."""

    lux: Annotated[float, measured("light.lux")] | None = None
    """Illuminance where one reads [lux]."""
    glare: Annotated[Glare, word(Glare)] = "unknown"
    """What dazzles or mirrors in the screen [-]."""


class Place(Record):
    """A place where work is done."""

    id: Annotated[str, ID]
    """Name of the place [-]."""
    kind: Annotated[PlaceKind, word(PlaceKind)] = "unknown"
    """What kind of place it is; a sofa or bed stays where it is, on bed and floor the legs lie [-]."""
    posture: Annotated[Posture, word(Posture)] = "unknown"
    """How one works there [-]."""
    seat: Seat | None = None
    """The seat used now; may be left out only where one stands [-]."""
    other_seats: Annotated[tuple[OtherSeat, ...], Field(max_length=10)] = ()
    """Further seats at hand [-]."""
    desk: Desk
    """The desk or table [-]."""
    feet_on: Annotated[Mm | FeetOn, word_or_measured(FeetOn, "place.feet_on")] = "unknown"
    """What the feet rest on: a word, or the height of a support [mm]."""
    sitting_spell: Annotated[float, measured("place.sitting_spell")] | None = None
    """Longest time sitting there without getting up [min]."""
    light: Light = Light()
    """Light [-]."""


CASE_FORMAT = "deskmend-case/1"

Keyboard = Literal["built_in", "separate", "unknown"]
Mouse = Literal["touchpad", "separate", "unknown"]
Phone = Literal["none", "hand", "cradled", "headset", "unknown"]
Tool = Literal["laptop", "monitor", "paper"]
Reference = Literal["laptop", "monitor", "paper", "none"]
Middle = Literal["laptop", "monitor", "paper", "unknown"]
ScreenKind = Literal["laptop", "monitor", "tablet", "other"]
PaperAt = Literal["front", "left", "right", "behind", "unknown"]
Format = Literal["deskmend-case/1"]


class Laptop(Record):
    """A laptop, measured from the surface it stands on; a tablet typed on has its keys in its picture."""

    screen_top: Annotated[Mm, measured("laptop.screen_top")]
    """Upper edge of the visible picture above the surface [mm]."""
    screen_height: Annotated[Mm, measured("laptop.screen_height")]
    """Height of the visible picture [mm]."""
    keys: Annotated[Mm, measured("laptop.keys")]
    """Home row of the keys above the surface [mm]."""
    depth: Annotated[Mm, measured("laptop.depth")] | None = None
    """Front to back, closed [mm]."""
    angle: Annotated[Deg, measured("screen.angle")] | None = None
    """Middle of the picture aside from straight ahead [deg]."""
    distance: Annotated[Mm, measured("screen.distance")] | None = None
    """Eye to the picture where a monitor is looked at as well [mm]."""


class Monitor(Record):
    """A screen of its own, also a tablet on a stand, measured from the surface it stands on."""

    top: Annotated[Mm, measured("monitor.top")]
    """Upper edge of the visible picture above the surface [mm]."""
    height: Annotated[Mm, measured("monitor.height")]
    """Height of the visible picture [mm]."""
    width: Annotated[Mm, measured("monitor.width")] | None = None
    """Width of the visible picture [mm]."""
    top_range: Annotated[tuple[Mm, Mm], span("monitor.top")] | None = None
    """Lowest and highest setting of the upper edge; None where it cannot be set, or unknown [mm]."""
    angle: Annotated[Deg, measured("screen.angle")] | None = None
    """Middle of the picture aside from straight ahead [deg]."""


class FurtherScreen(Record):
    """A further screen, beside laptop and monitor of the devices."""

    kind: Annotated[ScreenKind, word(ScreenKind)]
    """What it is [-]."""
    top: Annotated[Mm, measured("screen.top")]
    """Upper edge of the visible picture above the surface it stands on [mm]."""
    height: Annotated[Mm, measured("screen.height")] | None = None
    """Height of the visible picture [mm]."""
    angle: Annotated[Deg, measured("screen.angle")] | None = None
    """Middle of the picture aside from straight ahead [deg]."""
    distance: Annotated[Mm, measured("screen.distance")] | None = None
    """Eye to the picture [mm]."""
    share: Annotated[float, measured("task.share")] | None = None
    """Share of the time at screens spent looking at it [-]."""
    tasks: Annotated[tuple[Annotated[str, ID], ...], Field(max_length=20)] = ()
    """Ids of the tasks it is used for; all that have a screen where left out [-]."""

    @property
    def id(self) -> str:
        """What it is called among other members of lists: by its kind."""
        return self.kind


class KeyboardSize(Record):
    """Size of a separate keyboard."""

    height: Annotated[Mm, measured("keyboard_size.height")] | None = None
    """Home row above the surface [mm]."""
    width: Annotated[Mm, measured("keyboard_size.width")] | None = None
    """Side to side [mm]."""
    number_pad: Annotated[bool, YES_NO] | None = None
    """Whether it has a number pad [-]."""


class Devices(Record):
    """What the work is done with."""

    laptop: Laptop | None = None
    """The laptop, where there is one [-]."""
    monitor: Monitor | None = None
    """The separate screen, where there is one [-]."""
    keyboard: Annotated[Keyboard, word(Keyboard)] = "unknown"
    """Keyboard used [-]."""
    keyboard_size: KeyboardSize = KeyboardSize()
    """Size of a separate keyboard [mm]."""
    mouse: Annotated[Mouse, word(Mouse)] = "unknown"
    """Pointing device used [-]."""
    mouse_offset: Annotated[Mm, measured("devices.mouse_offset")] | None = None
    """Middle of the keyboard's letters to the middle of the mouse [mm]."""
    phone: Annotated[Phone, word(Phone)] = "unknown"
    """How one holds the phone while working; cradled is between ear and shoulder [-]."""


class Hands(Record):
    """What the hands do, as shares of the task's time; together at most 1."""

    keys: Annotated[float, measured("task.share")] | None = None
    """On the keyboard [-]."""
    mouse: Annotated[float, measured("task.share")] | None = None
    """On the mouse or touchpad [-]."""
    writing: Annotated[float, measured("task.share")] | None = None
    """Writing on paper [-]."""


class Paper(Record):
    """Where paper lies now."""

    at: Annotated[PaperAt, word(PaperAt)] = "unknown"
    """Side of the person; behind is behind the keyboard [-]."""
    distance: Annotated[Mm, measured("paper.distance")] | None = None
    """Front edge of the desk to the middle of the sheet [mm]."""
    slope: Annotated[Deg, measured("paper.slope")] | None = None
    """Tilt of the sheet from flat [deg]."""


class Scores(Record):
    """What RULA and ROSA ask for and no measure tells; what is left out takes the default named here."""

    wrist_twist: Annotated[int, count("scores.wrist_twist")] | None = None
    """RULA: 1 forearm turned within its middle range, 2 at or near its end; default 1 [-]."""
    force: Annotated[int, count("scores.force")] | None = None
    """RULA: points for force or load, 0 under 2 kg to 3 over 10 kg held, or shocks; default 0 [-]."""
    repeats_per_minute: Annotated[float, measured("scores.repeats_per_minute")] | None = None
    """RULA: how often the same movement is repeated; default 0 [1/min]."""
    wrist_deviated: Annotated[bool, YES_NO] | None = None
    """RULA and ROSA: hands bent sideways at the wrist; default no [-]."""
    neck_bent: Annotated[bool, YES_NO] | None = None
    """RULA: head bent to one side; default no [-]."""
    trunk_bent: Annotated[bool, YES_NO] | None = None
    """RULA: trunk bent to one side; default no [-]."""
    armrest_hard: Annotated[bool, YES_NO] | None = None
    """ROSA: armrests hard or damaged; default no [-]."""
    armrest_wide: Annotated[bool, YES_NO] | None = None
    """ROSA: armrests too far apart; default no [-]."""
    seat_depth_adjustable: Annotated[bool, YES_NO] | None = None
    """ROSA: depth of the seat can be set; default no [-]."""
    back_adjustable: Annotated[bool, YES_NO] | None = None
    """ROSA: backrest can be set; default no [-]."""
    mouse_small: Annotated[bool, YES_NO] | None = None
    """ROSA: mouse so small that it is pinched; default no [-]."""
    palm_rest: Annotated[bool, YES_NO] | None = None
    """ROSA: palm rest in front of the mouse; default no [-]."""
    reach_overhead: Annotated[bool, YES_NO] | None = None
    """ROSA: things used at the keyboard hang overhead; default no [-]."""
    phone_reach: Annotated[Mm, measured("scores.phone_reach")] | None = None
    """ROSA: hand to the telephone; default 300 [mm]."""
    hands_free: Annotated[bool, YES_NO] | None = None
    """ROSA: the telephone can be used without holding it; default yes [-]."""


class Task(Record):
    """One kind of work."""

    id: Annotated[str, ID]
    """Name of the task [-]."""
    place: Annotated[str, ID]
    """Id of the place where it is done [-]."""
    hours: Annotated[Hours, measured("task.hours")]
    """Time on a day on which it is done [h]."""
    days: Annotated[float, measured("task.days")] | None = None
    """Days a week on which it is done; all working days if left out [-]."""
    spell: Annotated[float, measured("task.spell")] | None = None
    """Longest time at it without a break [min]."""
    main: Annotated[Tool, word(Tool)]
    """What it is done on [-]."""
    reference: Annotated[Reference, word(Reference)] = "none"
    """What is looked at besides [-]."""
    reference_share: Annotated[float, measured("task.share")] | None = None
    """Share of the looking time spent on it [-]."""
    writing: Annotated[bool, YES_NO] | None = None
    """Whether one writes on paper [-]."""
    phone_share: Annotated[float, measured("task.share")] | None = None
    """Share of the time with the phone in use [-]."""
    viewing_distance: Annotated[Mm, measured("task.viewing_distance")] | None = None
    """Eye to the screen [mm]."""
    hands: Hands | None = None
    """What the hands do [-]."""
    middle: Annotated[Middle, word(Middle)] = "unknown"
    """What lies in the middle now [-]."""
    paper: Paper = Paper()
    """Where paper lies now [-]."""
    text_size: Annotated[Mm, measured("task.text_size")] | None = None
    """Height of small letters read [mm]."""
    scores: Scores = Scores()
    """What published scores ask for and no measure tells [-]."""


class Means(Record):
    """Money, time and skill at hand; what is left out sets no limit."""

    currency: Annotated[str, CURRENCY] | None = None
    """ISO 4217 code [-]."""
    budget: Annotated[Minor, MONEY] | None = None
    """Money in hand now [minor units]."""
    saving_per_month: Annotated[Minor, MONEY] | None = None
    """Money that comes in each month [minor units]."""
    horizon_months: Annotated[int, count("means.horizon_months")] | None = None
    """How far ahead saving counts [months]."""
    minutes: Annotated[Minutes, count("means.minutes")] | None = None
    """Working time for all fixes together [min]."""
    minutes_per_week: Annotated[Minutes, count("means.minutes_per_week")] | None = None
    """Working time a week [min]."""
    skill: Annotated[int, count("means.skill")] | None = None
    """1 anyone, 2 handy, 3 used to wood and tools [-]."""
    tools: Annotated[tuple[Annotated[str, ID], ...], Field(max_length=100)] | None = None
    """Ids of the tools at hand; None where unknown [-]."""
    may_alter: Annotated[bool, YES_NO] | None = None
    """Whether furniture may be changed for good [-]."""


class Wishes(Record):
    """Fixes the person insists on or refuses."""

    must: Annotated[tuple[Annotated[str, FIX_NAME], ...], Field(max_length=100)] = ()
    """Fixes that have to be in the plan [-]."""
    never: Annotated[tuple[Annotated[str, FIX_NAME], ...], Field(max_length=100)] = ()
    """Fixes that must not be [-]."""


class Room(Record):
    """What the room is like, and what may be done to it."""

    shared: Annotated[bool, YES_NO] | None = None
    """Whether others are in it during the work [-]."""
    landlord_leave: Annotated[bool, YES_NO] | None = None
    """Whether the owner lets one drill and mount [-]."""


@dataclass(frozen=True, eq=False)
class Origin:
    """Where a case was read; two cases that say the same are equal wherever they come from."""

    file: str = ""
    """Path as the user gave it; empty for a case made in Python."""
    tree: YamlTree | None = None
    """The file's content with its lines."""

    def __eq__(self, other: object) -> bool:
        """Take every origin for equal to every other."""
        return isinstance(other, Origin)

    def __hash__(self) -> int:
        """Return the one hash of all origins."""
        return hash(Origin)


class Case(Record):
    """One worker's workstation and means."""

    format: Annotated[Format, word(Format)]
    """Format of the file [-]."""
    title: Annotated[str, free_text(200)] = ""
    """One line that names the case [-]."""
    notes: Annotated[str, free_text(10_000, lines=True)] = ""
    """Anything worth keeping; printed, never read for meaning [-]."""
    person: Person
    """Who works here [-]."""
    places: Annotated[tuple[Place, ...], Field(min_length=1, max_length=20)]
    """Where [-]."""
    devices: Devices = Devices()
    """With what [-]."""
    screens: Annotated[tuple[FurtherScreen, ...], Field(max_length=10)] = ()
    """Further screens looked at beside the first; laptop and monitor stay in devices [-]."""
    tasks: Annotated[tuple[Task, ...], Field(min_length=1, max_length=20)]
    """At what [-]."""
    owns: Annotated[Mapping[Annotated[str, ID], Annotated[Owned, OWNED]], Field(max_length=200)] = Field(
        default_factory=dict
    )
    """Things at hand by item id: a count, or the length of each piece [mm]."""
    means: Means = Means()
    """Money, time and skill [-]."""
    in_place: Annotated[tuple[Annotated[str, FIX_NAME], ...], Field(max_length=100)] = ()
    """Fixes that are done already and not in the measures above [-]."""
    wishes: Wishes = Wishes()
    """What is wanted and refused [-]."""
    room: Room = Room()
    """What the room is like, and what may be done to it [-]."""

    _origin: Origin = PrivateAttr(default_factory=Origin)

    @property
    def source(self) -> str:
        """Path of the file the case was read from; empty where it was made in Python."""
        return self._origin.file

    def name_of(self, path: Path) -> str:
        """Name a value as people find it in the file, as ``places.kitchen.seat.height``."""
        return name_of(path, self.model_dump())

    def fault(self, loc: Loc, read: str | None, allowed: str, hint: str = "", note: str = "") -> Fault:
        """Make the fault of a value of this case, for checks that need more than the case.

        The path is as ``("person", "warning_signs", 0)``, the rest as in `Fault`.
        """
        tree = self._origin.tree
        plain = None if tree is None else to_plain(tree.root)
        return fault_at(loc, plain, self.source, tree, read, allowed, hint, note)


def values_at(record: Record, pattern: str) -> Iterator[tuple[Path, str, Any]]:
    """Values at a pattern such as ``places.*.seat.height``, ``*`` standing for each member of a list.

    Each with its path and the id of the list's member that it belongs to; None where a key is left out.
    """
    yield from _along(record, pattern.split("."), (), "")


def _along(node: Any, parts: Sequence[str], path: Path, owner: str) -> Iterator[tuple[Path, str, Any]]:
    if node is None or not parts:
        yield path, owner, node
        return
    first, rest = parts[0], parts[1:]
    if first == "*":
        for number, member in enumerate(node):
            yield from _along(member, rest, (*path, number), getattr(member, "id", ""))
    elif first.isdigit():
        yield from _along(node[int(first)], rest, (*path, int(first)), owner)
    else:
        yield from _along(getattr(node, first), rest, (*path, first), owner)
