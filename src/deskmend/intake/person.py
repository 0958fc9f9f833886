"""The records of a person: body dimensions, discomfort by region, hands and eyes.

Numbers left out are None and words left out are ``unknown``; nothing is filled in here.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from deskmend.intake.fields import ID, count, quantity, word
from deskmend.intake.records import Record

Region = Literal[
    "eyes", "neck", "shoulders", "arms_hands", "upper_back", "lower_back", "hips_thighs", "legs_feet"
]
Sex = Literal["female", "male", "unknown"]
Side = Literal["left", "right", "unknown"]
Eyewear = Literal["none", "single_vision", "multifocal", "unknown"]

Length = float
"""A length [mm]."""


class Body(Record):
    """Body dimensions measured without shoes, upright; those left out are estimated later."""

    popliteal_height: Annotated[Length, quantity("body.popliteal_height")] | None = None
    """Floor to the hollow of the knee, sitting [mm]."""
    sitting_elbow_height: Annotated[Length, quantity("body.sitting_elbow_height")] | None = None
    """Seat to the underside of the bent elbow [mm]."""
    sitting_eye_height: Annotated[Length, quantity("body.sitting_eye_height")] | None = None
    """Seat to the eye [mm]."""
    sitting_shoulder_height: Annotated[Length, quantity("body.sitting_shoulder_height")] | None = None
    """Seat to the top of the shoulder [mm]."""
    buttock_popliteal_length: Annotated[Length, quantity("body.buttock_popliteal_length")] | None = None
    """Back of the buttock to the hollow of the knee, sitting [mm]."""
    thigh_clearance: Annotated[Length, quantity("body.thigh_clearance")] | None = None
    """Seat to the top of the thigh [mm]."""
    knee_height: Annotated[Length, quantity("body.knee_height")] | None = None
    """Floor to the top of the knee, sitting [mm]."""
    shoulder_elbow_length: Annotated[Length, quantity("body.shoulder_elbow_length")] | None = None
    """Top of the shoulder to the underside of the bent elbow [mm]."""
    forearm_hand_length: Annotated[Length, quantity("body.forearm_hand_length")] | None = None
    """Back of the bent elbow to the fingertips [mm]."""
    standing_elbow_height: Annotated[Length, quantity("body.standing_elbow_height")] | None = None
    """Floor to the underside of the bent elbow, standing [mm]."""
    standing_eye_height: Annotated[Length, quantity("body.standing_eye_height")] | None = None
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

    stature: Annotated[Length, quantity("person.stature")]
    """Height standing upright, without shoes [mm]."""
    sex: Annotated[Sex, word(Sex)] = "unknown"
    """Which body data estimates follow [-]."""
    mass: Annotated[float, quantity("person.mass")] | None = None
    """Weight of the body [kg]."""
    age: Annotated[int, count("person.age")] | None = None
    """Age [years]."""
    shoes: Annotated[Length, quantity("person.shoes")] | None = None
    """Thickness of the heels worn at work [mm]."""
    writing_hand: Annotated[Side, word(Side)] = "unknown"
    """Hand that writes [-]."""
    mouse_hand: Annotated[Side, word(Side)] = "unknown"
    """Hand on the mouse [-]."""
    eyewear: Annotated[Eyewear, word(Eyewear)] = "unknown"
    """Glasses worn at the screen; progressive and bifocal ones are multifocal [-]."""
    body: Body = Body()
    """Body dimensions measured [mm]."""
    discomfort: Discomfort = Discomfort()
    """Discomfort by region, 0 to 10 [-]."""
    warning_signs: Annotated[tuple[Annotated[str, ID], ...], Field(max_length=50)] = ()
    """Ids of the warning signs that apply; which there are stands in the catalog's screening [-]."""
