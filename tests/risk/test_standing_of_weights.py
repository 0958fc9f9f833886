"""What outranks what, an hour of each: the table of the methods, and a published ratio scale beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from deskmend.risk.severity import severity
from deskmend.risk.strain import exposures

METHODS = Path(__file__).resolve().parents[2] / "docs" / "methods.md"


def weight(exposure: str, curve: str | None = None, value: float = 0.0) -> float:
    """Strain of an hour of one exposure, all regions together, in a short spell [strain-hours]."""
    part = sum(share for one in exposures() if one.name == exposure for _, share in one.regions)
    assert part > 0, exposure
    return part * (1.0 if curve is None else float(severity(curve, np.asarray(value))))


WEIGHTS = {
    "telephone held by the shoulder": weight("phone_cradled"),
    "bare hard seat": weight("seat_hard"),
    "head turned 35 degrees": weight("neck_turned", "neck_rotation", 35),
    "desk 40 mm over the elbow, keys of 20": weight("hands_off_elbow", "hand_high", 60),
    "feet hanging free": weight("feet_hang", "leg_gap", 150),
    "seat 40 mm over the knee's hollow, soles down": weight("feet_hang", "leg_gap", 40),
    "trunk 26 and head 38.5 degrees over flat paper": weight("trunk_bent", "trunk_inclination", 26)
    + weight("neck_bent", "head_inclination", 38.5),
    "laptop screen 35 degrees down": weight("neck_bent", "gaze_low", 35),
    "hands as high as the shoulder": weight("hands_off_elbow", "hand_high", 285),
    "wrist bent back 25 degrees": weight("wrist_bent", "wrist_extension", 25),
    "no back to lean on": weight("back_round", "lordosis_lost", 43),
    "flat back without a roll": weight("back_round", "lordosis_lost", 26),
    "trunk 20 degrees forward": weight("trunk_bent", "trunk_inclination", 20),
    "150 lux": weight("eyes_dark", "lux", 150),
    "hands 508 mm away": weight("reaching", "reach", 508),
    "sharp desk edge": weight("edge_pressed"),
}


def test_the_table_of_consequences_says_what_the_curves_and_weights_give() -> None:
    text = METHODS.read_text(encoding="utf-8")
    rows = [line.split("|")[1:-1] for line in text.split("<!-- standing -->")[1].splitlines() if "|" in line][
        2:
    ]
    assert len(rows) == 8
    for more, first, less, second, why in ([cell.strip() for cell in row] for row in rows):
        assert (first, second) == (f"{WEIGHTS[more]:.2f}", f"{WEIGHTS[less]:.2f}"), (more, less)
        assert WEIGHTS[more] > WEIGHTS[less]
        assert why


RATED = (
    # Posture, its class in Kee & Karwowski 2001 (Applied Ergonomics 32(4):357-366, seated, 1 as an arm that
    # hangs), and an hour of it here. Rows of the wrist confirmed in a second source, the others from memory.
    ("neck bent 10", 1, weight("neck_bent", "head_inclination", 10)),
    ("neck bent 32", 3, weight("neck_bent", "head_inclination", 32)),
    ("neck bent 50", 5, weight("neck_bent", "head_inclination", 50)),
    ("neck turned 15", 1, weight("neck_turned", "neck_rotation", 15)),
    ("neck turned 45", 2, weight("neck_turned", "neck_rotation", 45)),
    ("neck turned 70", 8, weight("neck_turned", "neck_rotation", 70)),
    ("back bent 10", 1, weight("trunk_bent", "trunk_inclination", 10)),
    ("back bent 40", 3, weight("trunk_bent", "trunk_inclination", 40)),
    ("back bent 65", 10, weight("trunk_bent", "trunk_inclination", 65)),
    ("back turned 10", 1, weight("trunk_turned", "trunk_twist", 10)),
    ("back turned 40", 2, weight("trunk_turned", "trunk_twist", 40)),
    ("wrist back 10", 1, weight("wrist_bent", "wrist_extension", 10)),
    ("wrist back 32", 2, weight("wrist_bent", "wrist_extension", 32)),
    ("wrist back 50", 7, weight("wrist_bent", "wrist_extension", 50)),
    ("wrist down 10", 1, weight("wrist_bent", "wrist_flexion", -10)),
    ("wrist down 40", 2, weight("wrist_bent", "wrist_flexion", -40)),
    ("arm hanging, hands at the elbow", 1, weight("hands_off_elbow", "hand_high", 20)),
    ("arm level, hands at the shoulder", 6, weight("hands_off_elbow", "hand_high", 285)),
)


def _ranks(values: list[float]) -> np.ndarray:
    """Ranks, alike ones sharing their mean."""
    array = np.asarray(values)
    return np.array([np.mean(np.flatnonzero(np.sort(array) == one)) for one in array])


def test_postures_rank_as_people_rate_them() -> None:
    rated, here = (_ranks([row[at] for row in RATED]) for at in (1, 2))
    assert float(np.corrcoef(rated, here)[0, 1]) >= 0.8


@pytest.mark.parametrize("joint", ["neck bent", "neck turned", "back bent", "wrist back"])
def test_a_worse_class_of_one_joint_never_weighs_less(joint: str) -> None:
    of_joint = sorted((row[1], row[2]) for row in RATED if row[0].startswith(joint))
    assert [here for _, here in of_joint] == sorted(here for _, here in of_joint)
