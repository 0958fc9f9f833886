"""Why a step is in the plan, how a workplace stands, and its exposures, adding up to the total exactly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import isnan

import numpy as np

from deskmend.errors import DefectError
from deskmend.measures import Hours, Micro
from deskmend.planning.score import PLAIN, StrainTerm, modes_in, score
from deskmend.risk.severity import curves, curves_moved, seen_in, severity
from deskmend.risk.strain import exposed, exposures, mean_millionths
from deskmend.workstation.fields import SYMBOLS
from deskmend.workstation.graph import QUANTITIES, ROLES
from deskmend.workstation.state import DEVICES, PERSON, State, owner_of

__all__ = [
    "MOST_REASONS",
    "ExposureRow",
    "Moved",
    "QuantityReading",
    "exposure_rows",
    "moved",
    "quantities_behind",
    "readings",
]

CurvePairs = dict[tuple[str, str], tuple[tuple[str, str], tuple[str, str]]]

HEAD = ("head_inclination", "head_inclination")
EITHER: CurvePairs = {
    ("neck_bent", "screen"): (HEAD, ("gaze_centre", "gaze_low")),
    ("neck_bent", "second"): (HEAD, ("gaze_centre", "gaze_low")),
    ("hands_off_elbow", "writing"): (("elbow_lift", "writing_high"), ("hand_gap", "writing_low")),
}
"""Exposures that take the larger of two quantities, each with its curve, by what they are taken of."""
EITHER_MULTIFOCAL: CurvePairs = EITHER | {
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


KEPT_ROWS = 128
"""States of which the rows of exposures are kept."""


def exposure_rows(
    state: State, weights: Mapping[str, float] = PLAIN, only: str = ""
) -> tuple[ExposureRow, ...]:
    """Every exposure that has a share of the time, by region weights [-]; strains add up to the score.

    Where the name of an exposure is given, of that one alone.
    """
    return _rows_kept(state, tuple(weights.items()), only, curves_moved())


@lru_cache(maxsize=KEPT_ROWS)
def _rows_kept(
    state: State, weighing: tuple[tuple[str, float], ...], only: str, _: object
) -> tuple[ExposureRow, ...]:
    return tuple(_exposure_rows(state, dict(weighing), only))


def _exposure_rows(state: State, weights: Mapping[str, float], only: str) -> Iterator[ExposureRow]:
    either = EITHER_MULTIFOCAL if state.values[PERSON, "person.eyewear"] == "multifocal" else EITHER
    for task in state.tasks:
        evaluation = seen_in(state, task)
        for exposure, roles, parts in exposed(evaluation, modes_in(evaluation), only):
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
                exact = mean_millionths(total, *given)
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


MOST_REASONS = 3
"""Most quantities named as the reason of one step."""

CURVES_OF_QUANTITY: dict[tuple[str, str], tuple[str, ...]] = {
    ("hand_gap", "keys"): ("hand_high", "hand_low"),
    ("hand_gap", "mouse"): ("hand_high", "hand_low"),
    ("hand_gap", "writing"): ("writing_low",),
    ("elbow_lift", "writing"): ("writing_high",),
    ("gaze_centre", "screen"): ("gaze_low",),
    ("gaze_centre", "second"): ("gaze_low",),
    ("gaze_centre", "paper"): (),
    ("gaze_top", "screen"): ("gaze_top_up",),
    ("gaze_top", "second"): ("gaze_top_up",),
    ("gaze_top", "paper"): (),
    ("viewing_distance", "screen"): ("viewing_near", "viewing_far"),
    ("viewing_distance", "second"): ("viewing_near", "viewing_far"),
    ("viewing_distance", "paper"): (),
    ("wrist_extension", "keys"): ("wrist_extension", "wrist_flexion"),
    ("wrist_extension", "mouse"): ("wrist_extension", "wrist_flexion"),
    ("wrist_extension", "writing"): (),
}
"""Curves of a quantity that differ by what it is taken of; others have the curves that name them."""
MULTIFOCAL = {("gaze_centre", "screen"): ("gaze_low_multifocal", "gaze_high_multifocal")}
"""The same for who wears multifocal glasses."""
NOT_SHOWN = (
    "mode_share",
    "outside_shoulder",
    "wrist_forward",
    "armrest_gap",
    "trunk_lean",
    "elbow_flexion",
    "soles_down",
    "legs_need",
    "legs_under",
    "body_back",
    "screen_pushed",
    "screen_takes",
    "screen_nearest",
    "keyboard_takes",
    "line_before",
    "paper_pushed",
    "paper_most",
    "paper_place",
    "reading_lean",
    "hand_level",
    "reach_lean",
    "typing_lean",
    "pointing_lean",
    "writing_lean",
    "hands_lean",
    "least_desk_gap",
    "most_desk_gap",
)
"""Quantities that only lead to others, or say again for rules what another says."""
SHARE_OF = {"target": "look_share", "hand": "hand_share"}
"""Part of the time that a role has."""
NOT_MEASURED = ("_severity", "_share", "_factor", "_flag", "_score")
"""Endings of the names of what is worked out from quantities."""

KEPT_MOVES = 512
"""Pairs of states of which it is kept what moves between them."""


@dataclass(frozen=True)
class Moved:
    """One exposure that a step changes.

    - `quantity`, `unit`: what is measured.
    - `of`: tool or activity, empty where it is the seat's or desk's.
    - `task`, `region`, `mode`: where it counts, and whether sitting or standing.
    - `before`, `after`: value of the quantity, before and after.
    - `strain`: strain taken off; negative where it is added.
    """

    quantity: str
    unit: str
    of: str
    task: str
    region: str
    mode: str
    before: float
    after: float
    strain: Micro


def moved(before: State, after: State) -> tuple[Moved, ...]:
    """Exposures that differ between two states of a case, the largest gain first, what got worse at the end.

    Strain is without discomfort weights.
    """
    return _moved(before, after, curves_moved())


@lru_cache(maxsize=KEPT_MOVES)
def _moved(before: State, after: State, _: object) -> tuple[Moved, ...]:
    first, second = _by_exposure(before), _by_exposure(after)
    out = []
    for key in dict.fromkeys((*first, *second)):
        gain = sum(t.value for t in first.get(key, [])) - sum(t.value for t in second.get(key, []))
        if gain == 0:
            continue
        term = (first.get(key) or second[key])[0]
        worse = before if gain > 0 else after
        name = _governing(worse, term) or term.exposure
        was, now = (_value(state, term, name) for state in (before, after))
        unit = QUANTITIES.quantities[name][0].unit if name in QUANTITIES.quantities else ""
        out.append(
            Moved(name, unit, _tool_of(term), term.task, term.region, term.roles["mode"], was, now, gain)
        )
    return tuple(sorted(out, key=lambda m: (-m.strain, m.task, m.quantity, m.of)))


def _by_exposure(state: State) -> dict[tuple[str, str, tuple[tuple[str, str], ...]], list[StrainTerm]]:
    out: dict[tuple[str, str, tuple[tuple[str, str], ...]], list[StrainTerm]] = {}
    for term in score(state, PLAIN).terms:
        out.setdefault((term.task, term.exposure, tuple(sorted(term.roles.items()))), []).append(term)
    return out


@cache
def _severity_of() -> dict[str, str]:
    return {e.name: e.severity for e in exposures()}


def quantities_behind(severity_name: str, roles: Mapping[str, str]) -> tuple[str, ...]:
    """Quantities and numbers that a severity function looks at in some roles, in its own order."""
    entry = QUANTITIES.find(severity_name, roles)
    return tuple(n for n in entry.needs if n in QUANTITIES.quantities or n in ("seat_pressure", "light_lux"))


def _governing(state: State, term: StrainTerm) -> str | None:
    """Quantity that decides a severity in a state: of several, the one furthest outside its range."""
    names = quantities_behind(_severity_of()[term.exposure], term.roles)
    if len(names) < 2:
        return names[0] if names else None

    def outside(name: str) -> float:
        value = np.asarray(_value(state, term, name))
        return max((float(severity(c, value)) for c in _curves(name, _tool_of(term), state)), default=-1.0)

    return max(names, key=outside)


def _tool_of(term: StrainTerm) -> str:
    return term.roles.get("target") or term.roles.get("hand") or ""


def _value(state: State, term: StrainTerm, name: str) -> float:
    """Value of a quantity for the task and roles of a term; nan where they do not have it."""
    try:
        return float(seen_in(state, term.task)(name, **term.roles))
    except (KeyError, ValueError):
        return float("nan")


def _curves(name: str, of: str, state: State) -> tuple[str, ...]:
    """Curves that a quantity, taken of a tool or activity, is scored with."""
    if (name, of) in MULTIFOCAL and state.values[PERSON, "person.eyewear"] == "multifocal":
        return MULTIFOCAL[name, of]
    if (name, of) in CURVES_OF_QUANTITY:
        return CURVES_OF_QUANTITY[name, of]
    return tuple(c.name for c in curves().values() if c.quantity == name)


@dataclass(frozen=True)
class QuantityReading:
    """One quantity of one task against its range.

    - `task`, `name`, `of`, `mode`, `unit`: what it is; ``of`` names tool or activity.
    - `value`: as the state gives it.
    - `low`, `high`: ends of the range in which it scores nothing.
    - `severity`: how far outside.
    - `source`: keys of the sources of the range.
    - `estimated`: hangs on a body dimension or a measure that nobody took.
    """

    task: str
    name: str
    of: str
    mode: str
    unit: str
    value: float
    low: float | None
    high: float | None
    severity: float
    source: str
    estimated: bool


def readings(state: State) -> Iterator[QuantityReading]:
    """Every quantity of every task at its place, in the modes and roles that have a share of the time."""
    for task in state.tasks:
        evaluation = seen_in(state, task)
        standing = float(evaluation("stand_share"))
        modes = [mode for mode, never in (("sit", 1.0), ("stand", 0.0)) if standing != never]
        for name in QUANTITIES.quantities:
            if name.endswith(NOT_MEASURED) or name in NOT_SHOWN:
                continue
            asked = QUANTITIES.roles_of(name)
            kind = next((role for role in ("target", "hand") if role in asked), "")
            for mode in modes if "mode" in asked else modes[:1]:
                for of in ROLES[kind] if kind else ("",):
                    roles = {"mode": mode} | ({kind: of} if of else {})
                    if kind and float(evaluation(SHARE_OF[kind], **roles)) <= 0.0:
                        continue
                    if not _is_defined(name, roles):
                        continue
                    # who always stands has no seat to read
                    if "mode" not in asked and "sit" not in modes and _about_seat(name, roles):
                        continue
                    if _is_moot(name, of, state, task, modes):
                        continue
                    shown = mode if "mode" in asked else ""
                    yield _reading(state, task, name, of, shown, roles, float(evaluation(name, **roles)))


def _reading(
    state: State, task: str, name: str, of: str, mode: str, roles: Mapping[str, str], value: float
) -> QuantityReading:
    used = _curves(name, of, state)
    low, high = _range(used)
    return QuantityReading(
        task,
        name,
        _tool(state, task, of),
        mode,
        QUANTITIES.quantities[name][0].unit,
        value,
        low,
        high,
        max((float(severity(curve, np.asarray(value))) for curve in used), default=0.0),
        " ".join(dict.fromkeys(source for curve in used for source in curves()[curve].sources)),
        _estimated(state, task, name, roles),
    )


def _range(names: tuple[str, ...]) -> tuple[float | None, float | None]:
    low: float | None = None
    high: float | None = None
    for name in names:
        curve = curves()[name]
        if curve.one_at > curve.zero_at:
            high = curve.zero_at
        else:
            low = curve.zero_at
    return low, high


def _is_defined(name: str, roles: Mapping[str, str]) -> bool:
    """Whether a quantity exists in these roles: paper has no top edge, for one."""
    return any(
        all(roles.get(role) == case for role, case in entry.only.items())
        for entry in QUANTITIES.quantities[name]
    )


def _is_moot(name: str, of: str, state: State, task: str, modes: Sequence[str]) -> bool:
    """Whether a quantity is of what is not there, or told already as another is for a way of working."""
    if name == "armrest_room":
        return state.values[("place", state.place_of[task]), "seat.armrests"] == "none"
    if name == "standing_desk_gap":
        # For who stands the desk's gap says it; for who cannot it is of no use.
        return "stand" in modes or state.values[PERSON, "person.cannot_stand"] == "yes"
    # neither strain nor RULA goes by the slope of a writing wrist, which follows the pen
    return (name, of) == ("wrist_extension", "writing")


def _about_seat(name: str, roles: Mapping[str, str]) -> bool:
    return any(s.startswith("seat_") for s in QUANTITIES.leaves(name, roles))


def _tool(state: State, task: str, of: str) -> str:
    """Name a screen by its kind, and the second one where it is a laptop's or a tablet's."""
    shown = str(state.values[("task", task), "task.screen"]) if of == "screen" else of
    if of == "second" and state.values[DEVICES, "second.kind"] == "laptop":
        shown = "laptop"
    return str(state.values[DEVICES, "laptop.kind"]) if shown == "laptop" else shown


def _estimated(state: State, task: str, name: str, roles: Mapping[str, str]) -> bool:
    # Only what lies on a lap lies as high as the thighs.
    on_lap = not isnan(float(state.values[("place", state.place_of[task]), "lap.rise"]))
    idle = () if on_lap else (("work_surface", "thigh_top"),)
    for symbol in QUANTITIES.leaves(name, roles, idle):
        known = SYMBOLS[symbol]
        if (owner_of(known.level, task, state.place_of[task]), known.name) in state.assumed:
            return True
    return False
