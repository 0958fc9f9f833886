"""The records of a case: one person, the places and devices, the tasks, and the means at hand.

Numbers left out are None and words left out are ``unknown``; nothing is filled in here. Lengths are whole or
broken millimetres as measured. Ranges stand in ``ranges.csv``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, PrivateAttr

from deskmend.errors import Fault
from deskmend.intake.fields import (
    CURRENCY,
    FIX_NAME,
    ID,
    MONEY,
    OWNED,
    YES_NO,
    Owned,
    count,
    free_text,
    quantity,
    span,
    word,
)
from deskmend.intake.person import Body, Discomfort, Length, Person, Region
from deskmend.intake.place import Desk, Light, Lumbar, OtherSeat, Place, Seat
from deskmend.intake.records import Record, fault_at
from deskmend.intake.tree import Loc, Tree, to_plain

__all__ = [
    "CASE_FORMAT",
    "Body",
    "Case",
    "Desk",
    "Devices",
    "Discomfort",
    "Hands",
    "KeyboardSize",
    "Laptop",
    "Light",
    "Lumbar",
    "Means",
    "Monitor",
    "Origin",
    "OtherSeat",
    "Owned",
    "Paper",
    "Person",
    "Place",
    "Region",
    "Room",
    "Scores",
    "Seat",
    "Task",
    "Wishes",
]

CASE_FORMAT = "deskmend-case/1"

Keyboard = Literal["built_in", "separate", "unknown"]
Mouse = Literal["touchpad", "separate", "unknown"]
Phone = Literal["none", "hand", "cradled", "headset", "unknown"]
Tool = Literal["laptop", "monitor", "paper"]
Reference = Literal["laptop", "monitor", "paper", "none"]
Middle = Literal["laptop", "monitor", "paper", "unknown"]
PaperAt = Literal["front", "left", "right", "behind", "unknown"]
Format = Literal["deskmend-case/1"]


class Laptop(Record):
    """A laptop, measured from the surface it stands on."""

    screen_top: Annotated[Length, quantity("laptop.screen_top")]
    """Upper edge of the visible picture above the surface [mm]."""
    screen_height: Annotated[Length, quantity("laptop.screen_height")]
    """Height of the visible picture [mm]."""
    keys: Annotated[Length, quantity("laptop.keys")]
    """Home row of the keys above the surface [mm]."""
    depth: Annotated[Length, quantity("laptop.depth")] | None = None
    """Front to back, closed [mm]."""


class Monitor(Record):
    """A screen of its own, measured from the surface it stands on."""

    top: Annotated[Length, quantity("monitor.top")]
    """Upper edge of the visible picture above the surface [mm]."""
    height: Annotated[Length, quantity("monitor.height")]
    """Height of the visible picture [mm]."""
    width: Annotated[Length, quantity("monitor.width")] | None = None
    """Width of the visible picture [mm]."""
    top_range: Annotated[tuple[Length, Length], span("monitor.top")] | None = None
    """Lowest and highest setting of the upper edge; None where it cannot be set, or unknown [mm]."""


class KeyboardSize(Record):
    """Size of a separate keyboard."""

    height: Annotated[Length, quantity("keyboard_size.height")] | None = None
    """Home row above the surface [mm]."""
    width: Annotated[Length, quantity("keyboard_size.width")] | None = None
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
    mouse_offset: Annotated[Length, quantity("devices.mouse_offset")] | None = None
    """Middle of the keyboard's letters to the middle of the mouse [mm]."""
    phone: Annotated[Phone, word(Phone)] = "unknown"
    """How one holds the phone while working; cradled is between ear and shoulder [-]."""


class Hands(Record):
    """What the hands do, as shares of the task's time; together at most 1."""

    keys: Annotated[float, quantity("task.share")] | None = None
    """On the keyboard [-]."""
    mouse: Annotated[float, quantity("task.share")] | None = None
    """On the mouse or touchpad [-]."""
    writing: Annotated[float, quantity("task.share")] | None = None
    """Writing on paper [-]."""


class Paper(Record):
    """Where paper lies now."""

    at: Annotated[PaperAt, word(PaperAt)] = "unknown"
    """Side of the person; behind is behind the keyboard [-]."""
    distance: Annotated[Length, quantity("paper.distance")] | None = None
    """Front edge of the desk to the middle of the sheet [mm]."""
    slope: Annotated[float, quantity("paper.slope")] | None = None
    """Tilt of the sheet from flat [deg]."""


class Scores(Record):
    """What RULA and ROSA ask for and no measure tells; what is left out takes the default named here."""

    wrist_twist: Annotated[int, count("scores.wrist_twist")] | None = None
    """RULA: 1 forearm turned within its middle range, 2 at or near its end; default 1 [-]."""
    force: Annotated[int, count("scores.force")] | None = None
    """RULA: points for force or load, 0 under 2 kg to 3 over 10 kg held, or shocks; default 0 [-]."""
    repeats_per_minute: Annotated[float, quantity("scores.repeats_per_minute")] | None = None
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
    phone_reach: Annotated[Length, quantity("scores.phone_reach")] | None = None
    """ROSA: hand to the telephone; default 300 [mm]."""
    hands_free: Annotated[bool, YES_NO] | None = None
    """ROSA: the telephone can be used without holding it; default yes [-]."""


class Task(Record):
    """One kind of work."""

    id: Annotated[str, ID]
    """Name of the task [-]."""
    place: Annotated[str, ID]
    """Id of the place where it is done [-]."""
    hours: Annotated[float, quantity("task.hours")]
    """Time a day [h]."""
    spell: Annotated[float, quantity("task.spell")] | None = None
    """Longest time at it without a break [min]."""
    main: Annotated[Tool, word(Tool)]
    """What it is done on [-]."""
    reference: Annotated[Reference, word(Reference)] = "none"
    """What is looked at besides [-]."""
    reference_share: Annotated[float, quantity("task.share")] | None = None
    """Share of the looking time spent on it [-]."""
    writing: Annotated[bool, YES_NO] | None = None
    """Whether one writes on paper [-]."""
    phone_share: Annotated[float, quantity("task.share")] | None = None
    """Share of the time with the phone in use [-]."""
    viewing_distance: Annotated[Length, quantity("task.viewing_distance")] | None = None
    """Eye to the screen [mm]."""
    hands: Hands | None = None
    """What the hands do [-]."""
    middle: Annotated[Middle, word(Middle)] = "unknown"
    """What lies in the middle now [-]."""
    paper: Paper = Paper()
    """Where paper lies now [-]."""
    text_size: Annotated[Length, quantity("task.text_size")] | None = None
    """Height of small letters read [mm]."""
    scores: Scores = Scores()
    """What published scores ask for and no measure tells [-]."""


class Means(Record):
    """Money, time and skill at hand; what is left out sets no limit."""

    currency: Annotated[str, CURRENCY] | None = None
    """ISO 4217 code [-]."""
    budget: Annotated[int, MONEY] | None = None
    """Money in hand now [minor units]."""
    saving_per_month: Annotated[int, MONEY] | None = None
    """Money that comes in each month [minor units]."""
    horizon_months: Annotated[int, count("means.horizon_months")] | None = None
    """How far ahead saving counts [months]."""
    minutes: Annotated[int, count("means.minutes")] | None = None
    """Working time for all fixes together [min]."""
    minutes_per_week: Annotated[int, count("means.minutes_per_week")] | None = None
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
    """What may be done to the room."""

    landlord_leave: Annotated[bool, YES_NO] | None = None
    """Whether the owner lets one drill and mount [-]."""


@dataclass(frozen=True, eq=False)
class Origin:
    """Where a case was read; two cases that say the same are equal wherever they come from.

    Attributes
    ----------
    file : str
        Path as the user gave it; empty for a case made in Python.
    tree : Tree or None
        The file's content with its lines.
    """

    file: str = ""
    tree: Tree | None = None

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
    tasks: Annotated[tuple[Task, ...], Field(min_length=1, max_length=20)]
    """At what [-]."""
    owns: Annotated[Mapping[Annotated[str, ID], Annotated[Owned, OWNED]], Field(max_length=200)] = Field(
        default_factory=dict
    )
    """Things at hand by item id: a count, or the length of each piece [mm]."""
    means: Means = Means()
    """Money, time and skill [-]."""
    wishes: Wishes = Wishes()
    """What is wanted and refused [-]."""
    room: Room = Room()
    """What may be done to the room [-]."""

    _origin: Origin = PrivateAttr(default_factory=Origin)

    @property
    def source(self) -> str:
        """Path of the file the case was read from; empty where it was made in Python."""
        return self._origin.file

    def fault(self, loc: Loc, read: str | None, allowed: str, hint: str = "", note: str = "") -> Fault:
        """Make a fault about a value of this case, for checks that need more than the case.

        Parameters
        ----------
        loc : sequence of str or int
            Path to the value, as ``("person", "warning_signs", 0)``.
        read, allowed, hint, note
            As in `Fault`.

        Returns
        -------
        Fault
            With the file and line where the value stands.
        """
        tree = self._origin.tree
        plain = None if tree is None else to_plain(tree.root)
        return fault_at(loc, plain, self.source, tree, read, allowed, hint, note)
