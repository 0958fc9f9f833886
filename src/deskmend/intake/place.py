"""The records of a place: its seats, its desk, what the feet rest on, and its light.

Numbers left out are None and words left out are ``unknown``; nothing is filled in here.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from deskmend.intake.fields import ID, YES_NO, quantity, span, word, word_or_quantity
from deskmend.intake.person import Length, Person
from deskmend.intake.records import Record

Surface = Literal["hard", "thin_pad", "foam", "unknown"]
SlopeWord = Literal["flat", "back", "forward", "unknown"]
Back = Literal["none", "flat", "shaped", "unknown"]
Armrests = Literal["none", "fixed", "adjustable", "unknown"]
Base = Literal["legs", "wheels", "glides", "stool", "unknown"]
SeatMaterial = Literal["wood", "metal", "plastic", "upholstered", "woven", "other", "unknown"]
Top = Literal["wood", "board", "glass", "metal", "stone", "plastic", "other", "unknown"]
DeskLegs = Literal["fixed", "folding", "trestle", "height_adjustable", "unknown"]
Edge = Literal["sharp", "rounded", "unknown"]
Posture = Literal["sit", "stand", "both", "unknown"]
FeetOn = Literal["floor", "foot_bar", "foot_ring", "nothing", "unknown"]
Glare = Literal["none", "window_behind", "window_ahead", "window_beside", "lamp", "unknown"]


class Lumbar(Record):
    """Where the back of the seat bulges to carry the hollow of the back."""

    height: Annotated[Length, quantity("lumbar.height")]
    """Middle of the bulge above the seat [mm]."""
    depth: Annotated[Length, quantity("lumbar.depth")]
    """How far it stands out from the back [mm]."""


class Seat(Record):
    """A chair, stool or bench as it is now."""

    height: Annotated[Length, quantity("seat.height")]
    """Front edge above the floor, sat upon [mm]."""
    height_range: Annotated[tuple[Length, Length], span("seat.height")] | None = None
    """Lowest and highest setting of the front edge; None where it cannot be set, or unknown [mm]."""
    depth: Annotated[Length, quantity("seat.depth")] | None = None
    """Front edge to the back [mm]."""
    surface: Annotated[Surface, word(Surface)] = "unknown"
    """What one sits on [-]."""
    slope: Annotated[float | SlopeWord, word_or_quantity(SlopeWord, "seat.slope")] = "unknown"
    """Fall of the seat towards the back: a word, or an angle, positive towards the back [deg]."""
    back: Annotated[Back, word(Back)] = "unknown"
    """Shape of the back [-]."""
    recline: Annotated[float, quantity("seat.recline")] | None = None
    """Lean of the back from upright [deg]."""
    back_height: Annotated[Length, quantity("seat.back_height")] | None = None
    """Top of the back above the seat [mm]."""
    lumbar: Lumbar | None = None
    """Support of the hollow of the back [mm]."""
    armrests: Annotated[Armrests, word(Armrests)] = "unknown"
    """Armrests [-]."""
    armrest_height: Annotated[Length, quantity("seat.armrest_height")] | None = None
    """Top of the armrests above the seat [mm]."""
    foot_ring: Annotated[Length, quantity("seat.foot_ring")] | None = None
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

    height: Annotated[Length, quantity("desk.height")]
    """Top surface above the floor [mm]."""
    height_range: Annotated[tuple[Length, Length], span("desk.height")] | None = None
    """Lowest and highest setting; None where it cannot be set, or unknown [mm]."""
    underside: Annotated[Length, quantity("desk.underside")] | None = None
    """Lowest part above the thighs, frame and drawer included, above the floor [mm]."""
    depth: Annotated[Length, quantity("desk.depth")] | None = None
    """Front edge to the rear edge or wall [mm]."""
    width: Annotated[Length, quantity("desk.width")] | None = None
    """Side to side [mm]."""
    leg_depth: Annotated[Length, quantity("desk.leg_depth")] | None = None
    """Room for knees and feet behind the front edge [mm]."""
    leg_width: Annotated[Length, quantity("desk.leg_width")] | None = None
    """Room for the legs side to side [mm]."""
    foot_bar: Annotated[Length, quantity("desk.foot_bar")] | None = None
    """Bar to rest the feet on, above the floor [mm]."""
    foot_bar_setback: Annotated[Length, quantity("desk.foot_bar_setback")] | None = None
    """Bar behind the front edge of the desk [mm]."""
    top: Annotated[Top, word(Top)] = "unknown"
    """What the top is made of; board is any pressed wood [-]."""
    legs: Annotated[DeskLegs, word(DeskLegs)] = "unknown"
    """How it stands [-]."""
    edge: Annotated[Edge, word(Edge)] = "unknown"
    """Front edge [-]."""
    tiltable: Annotated[bool, YES_NO] | None = None
    """Whether the top can be tilted [-]."""


class Light(Record):
    """Light at the place."""

    lux: Annotated[float, quantity("light.lux")] | None = None
    """Illuminance where one reads [lux]."""
    glare: Annotated[Glare, word(Glare)] = "unknown"
    """What dazzles or mirrors in the screen [-]."""


class Place(Record):
    """A place where work is done."""

    id: Annotated[str, ID]
    """Name of the place [-]."""
    posture: Annotated[Posture, word(Posture)] = "unknown"
    """How one works there [-]."""
    seat: Seat | None = None
    """The seat used now; may be left out only where one stands [-]."""
    other_seats: Annotated[tuple[OtherSeat, ...], Field(max_length=10)] = ()
    """Further seats at hand [-]."""
    desk: Desk
    """The desk or table [-]."""
    feet_on: Annotated[float | FeetOn, word_or_quantity(FeetOn, "place.feet_on")] = "unknown"
    """What the feet rest on: a word, or the height of a support [mm]."""
    sitting_spell: Annotated[float, quantity("place.sitting_spell")] | None = None
    """Longest time sitting there without getting up [min]."""
    light: Light = Light()
    """Light [-]."""
