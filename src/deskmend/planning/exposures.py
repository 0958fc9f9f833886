"""Every exposure of a workplace with all that makes its strain, adding up to the total exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from deskmend.errors import DefectError
from deskmend.measures import Hours, Micro
from deskmend.planning.model.states import StateArrays
from deskmend.planning.score import PLAIN, modes_in
from deskmend.risk.severity import severity
from deskmend.risk.strain import exposed, mean_millionths
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
        for exposure, roles, parts in exposed(evaluation, modes_in(evaluation)):
            given = [np.ravel(part)[:1].astype(np.float64) for part in parts]
            kept_up, hours, share = (float(one[0]) for one in given[:3])
            mode_share, degree, factor = _mean_day(kept_up, *(float(one[0]) for one in given[3:]))
            of = roles.get("target") or roles.get("hand") or ""
            pair = [
                (name, float(np.ravel(severity(curve, evaluation(name, **roles)))[0]))
                for name, curve in either.get((exposure.name, of), ())
            ]
            pair.sort(key=lambda one: -one[1])
            for region, weight in exposure.regions:
                # multiplied in the order in which the score does it, so that no last bit differs
                total = weight * weights[region]
                exact = mean_millionths(given[0], given[1], given[2], given[3:6], given[6:], total)
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


def _mean_day(kept_up: float, *days: float) -> tuple[float, float, float]:
    """Mode share, severity and spell factor whose product is the mean over days with a habit and without.

    `days` are these three of days on which it is kept, then of the others.
    """
    if kept_up >= 1.0:
        return days[0], days[1], days[2]
    kinds = ((kept_up, days[:3]), (1.0 - kept_up, days[3:]))
    shares = [part * share for part, (share, _, _) in kinds]
    outside = [one * degree if one else 0.0 for one, (_, (_, degree, _)) in zip(shares, kinds, strict=True)]
    stretched = [
        one * factor if one else 0.0 for one, (_, (_, _, factor)) in zip(outside, kinds, strict=True)
    ]
    degree = sum(outside) / sum(shares) if sum(shares) else days[1]
    factor = sum(stretched) / sum(outside) if sum(outside) else days[2]
    return sum(shares), degree, factor


def _instead(row: ExposureRow, quantity: str, lesser: float, larger: float) -> ExposureRow:
    """The lesser of two rows of which one counts, eased as that one is."""
    if lesser > larger:
        raise DefectError(f"{quantity} is no lesser than {row.quantity}")
    eased = row.severity / larger if larger else 1.0
    values = {**vars(row), "quantity": quantity, "severity": lesser * eased, "strain": 0}
    return ExposureRow(**{**values, "instead": row.quantity})
