"""Every exposure of a workplace with all that makes its strain, adding up to the total exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from deskmend.errors import DefectError
from deskmend.measures import Hours, Micro
from deskmend.planning.model.states import StateArrays
from deskmend.planning.score import PLAIN
from deskmend.risk.severity import severity
from deskmend.risk.strain import exposed, millionths
from deskmend.workstation.state import PERSON, State

__all__ = ["ExposureRow", "exposure_rows"]

Pairs = dict[tuple[str, str], tuple[tuple[str, str], tuple[str, str]]]

HEAD = ("head_inclination", "head_inclination")
EITHER: Pairs = {
    ("neck_bent", "screen"): (HEAD, ("gaze_centre", "gaze_low")),
    ("neck_bent", "second"): (HEAD, ("gaze_centre", "gaze_low")),
    ("hands_off_elbow", "writing"): (("elbow_lift", "writing_high"), ("hand_gap", "writing_low")),
}
"""Exposures that take the larger of two quantities, each with its curve, by what they are taken of."""
EITHER_MULTIFOCAL: Pairs = EITHER | {
    ("neck_bent", "screen"): (HEAD, ("gaze_centre", "gaze_low_multifocal")),
    ("neck_bent", "second"): (HEAD, ("gaze_centre", "gaze_low_multifocal")),
    ("neck_back", "screen"): (("gaze_top", "gaze_top_up"), ("gaze_centre", "gaze_high_multifocal")),
}
"""The same for who wears multifocal glasses."""


@dataclass(frozen=True)
class ExposureRow:
    """One exposure of one task in one region.

    - `name`: as in ``exposures.csv``; `of`: screen, keys and so on, empty where it is the seat's or desk's.
    - `quantity`: which of two quantities this row is about, where the larger of both counts; else empty.
    - `severity`, `share`, `spell_factor`: how far outside, in which part of the task's hours, and what an
      unbroken spell adds [-].
    - `weight`, `discomfort_factor`: of the exposure in the region, and of the region for this person [-].
    - `strain`: their product, rounded once; 0 where another row counts instead.
    - `instead`: the quantity that counts instead; empty where this row counts.
    """

    task: str
    place: str
    name: str
    of: str
    mode: str
    quantity: str
    region: str
    hours: Hours
    severity: float
    share: float
    spell_factor: float
    weight: float
    discomfort_factor: float
    strain: Micro
    instead: str = ""


def exposure_rows(state: State, weights: Mapping[str, float] = PLAIN) -> Iterator[ExposureRow]:
    """Every exposure that has a share of the time, by region weights [-]; strains add up to the score."""
    states = StateArrays([state])
    either = EITHER_MULTIFOCAL if state.values[PERSON, "person.eyewear"] == "multifocal" else EITHER
    for task in state.tasks:
        evaluation = states.evaluation(task)
        standing = float(np.ravel(evaluation("stand_share"))[0])
        modes = tuple(mode for mode, never in (("sit", 1.0), ("stand", 0.0)) if standing != never)
        for exposure, roles, parts in exposed(evaluation, modes):
            given = [np.ravel(part)[:1].astype(np.float64) for part in parts]
            hours, mode_share, share, degree, factor = (float(one[0]) for one in given)
            of = roles.get("target") or roles.get("hand") or ""
            pair = [
                (name, float(np.ravel(severity(curve, evaluation(name, **roles)))[0]))
                for name, curve in either.get((exposure.name, of), ())
            ]
            pair.sort(key=lambda one: -one[1])
            for region, weight in exposure.regions:
                # multiplied in the order in which the score does it, so that no last bit differs
                exact = millionths(given[0], given[1], given[2], given[3], given[4], weight * weights[region])
                row = ExposureRow(
                    task=task,
                    place=state.place_of[task],
                    name=exposure.name,
                    of=of,
                    mode=roles["mode"],
                    quantity=pair[0][0] if pair else "",
                    region=region,
                    hours=hours,
                    severity=degree,
                    share=mode_share * share,
                    spell_factor=factor,
                    weight=weight,
                    discomfort_factor=weights[region],
                    strain=int(exact[0]),
                )
                yield row
                for name, lesser in pair[1:]:
                    yield _instead(row, name, lesser, pair[0][1])


def _instead(row: ExposureRow, quantity: str, lesser: float, larger: float) -> ExposureRow:
    """The lesser of two rows of which one counts, eased as that one is."""
    if lesser > larger:
        raise DefectError(f"{quantity} is no lesser than {row.quantity}")
    eased = row.severity / larger if larger else 1.0
    values = {**vars(row), "quantity": quantity, "severity": lesser * eased, "strain": 0}
    return ExposureRow(**{**values, "instead": row.quantity})
