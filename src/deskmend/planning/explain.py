"""Why a step is in the plan: which quantities it moves, from what to what, and how much that takes off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from deskmend.planning.score import PLAIN, StrainTerm, score
from deskmend.risk.severity import curves, severity
from deskmend.risk.strain import exposures
from deskmend.workstation.fields import SYMBOLS
from deskmend.workstation.graph import QUANTITIES, ROLES
from deskmend.workstation.state import State, evaluate, owner_of

__all__ = ["Moved", "QuantityReading", "moved", "readings"]

SHOWN = 3
"""Most quantities named as the reason of one step."""


@dataclass(frozen=True)
class Moved:
    """One exposure that a step changes.

    Attributes
    ----------
    quantity, unit : str
        What is measured.
    of : str
        Tool or activity, empty where it is the seat's or desk's.
    task, region : str
        Where it counts.
    before, after : float
        Value of the quantity, before and after.
    strain : int
        Strain taken off; negative where it is added [millionths of h/day].
    """

    quantity: str
    unit: str
    of: str
    task: str
    region: str
    before: float
    after: float
    strain: int


@cache
def quantities_behind(severity_name: str) -> tuple[str, ...]:
    """Quantities and numbers that a severity function looks at, in its own order."""
    entry = QUANTITIES.quantities[severity_name][0]
    known = [n for n in entry.needs if n in QUANTITIES.quantities or n in ("seat_pressure", "light_lux")]
    return tuple(known)


def governing(severity_name: str, state: State, task: str, roles: Mapping[str, str]) -> str | None:
    """Quantity that decides a severity in a state: of several, the one furthest outside its range.

    Parameters
    ----------
    severity_name : str
        Registered severity function.
    state : State
        The workstation.
    task : str
        Id of a task.
    roles : mapping
        Roles in which it is asked.
    """
    names = quantities_behind(severity_name)
    if len(names) < 2:
        return names[0] if names else None
    of = roles.get("target") or roles.get("hand") or ""
    eyewear = str(state.values[("person", ""), "person.eyewear"])

    def outside(name: str) -> float:
        value = np.asarray(_value(state, task, name, dict(roles)))
        return max((float(severity(c, value)) for c in _curves(name, of, eyewear)), default=-1.0)

    return max(names, key=outside)


@cache
def _severity_of() -> dict[str, str]:
    return {e.name: e.severity for e in exposures()}


def _by_exposure(state: State) -> dict[tuple[str, str, tuple[tuple[str, str], ...]], list[StrainTerm]]:
    out: dict[tuple[str, str, tuple[tuple[str, str], ...]], list[StrainTerm]] = {}
    for term in score(state, PLAIN).terms:
        out.setdefault((term.task, term.exposure, tuple(sorted(term.roles.items()))), []).append(term)
    return out


def moved(before: State, after: State) -> tuple[Moved, ...]:
    """Exposures that differ between two states, the largest gain first.

    Parameters
    ----------
    before, after : State
        States of the same case.

    Returns
    -------
    tuple of Moved
        Strain without discomfort weights. Also those that got worse, at the end.
    """
    first, second = _by_exposure(before), _by_exposure(after)
    out = []
    for key in dict.fromkeys((*first, *second)):
        gain = sum(t.value for t in first.get(key, [])) - sum(t.value for t in second.get(key, []))
        if gain == 0:
            continue
        task, exposure, roles = key
        worse = before if gain > 0 else after
        name = governing(_severity_of()[exposure], worse, task, dict(roles)) or exposure
        term = (first.get(key) or second[key])[0]
        of = dict(roles).get("target") or dict(roles).get("hand") or ""
        was, now = (_value(state, task, name, dict(roles)) for state in (before, after))
        unit = QUANTITIES.quantities[name][0].unit if name in QUANTITIES.quantities else ""
        out.append(Moved(name, unit, of, task, term.region, was, now, gain))
    return tuple(sorted(out, key=lambda m: (-m.strain, m.task, m.quantity, m.of)))


def _value(state: State, task: str, name: str, roles: dict[str, str]) -> float:
    try:
        return float(evaluate(state, task)(name, **roles))
    except (KeyError, ValueError):
        return float("nan")


@dataclass(frozen=True)
class QuantityReading:
    """One quantity of one task against its range.

    Attributes
    ----------
    task, name, of, mode, unit : str
        What it is; ``of`` names tool or activity.
    value : float
        As the state gives it.
    low, high : float or None
        Ends of the range in which it scores nothing.
    severity : float
        How far outside [-].
    source : str
        Keys of the sources of the range.
    estimated : bool
        Hangs on a body dimension or a measure that nobody took.
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


CURVES_OF: dict[tuple[str, str], tuple[str, ...]] = {
    ("hand_gap", "keys"): ("hand_high", "hand_low"),
    ("hand_gap", "mouse"): ("hand_high", "hand_low"),
    ("hand_gap", "writing"): ("writing_high", "writing_low"),
    ("gaze_centre", "screen"): ("gaze_low",),
    ("gaze_centre", "second"): ("gaze_low",),
    ("gaze_centre", "paper"): ("gaze_low",),
    ("gaze_top", "screen"): ("gaze_top_up",),
    ("gaze_top", "second"): ("gaze_top_up",),
    ("viewing_distance", "screen"): ("viewing_near", "viewing_far"),
    ("viewing_distance", "second"): ("viewing_near", "viewing_far"),
    ("wrist_extension", "keys"): ("wrist_extension", "wrist_flexion"),
    ("wrist_extension", "mouse"): ("wrist_extension", "wrist_flexion"),
}
"""Curves of a quantity that differ by what it is taken of; others have the curves that name them."""
MULTIFOCAL = {("gaze_centre", "screen"): ("gaze_low_multifocal", "gaze_high_multifocal")}
NOT_CURVED = {
    ("gaze_top", "paper"),
    ("viewing_distance", "paper"),
    ("wrist_extension", "writing"),
}

NOT_SHOWN = ("mode_share", "outside_shoulder", "wrist_forward", "armrest_gap", "trunk_lean", "elbow_flexion")
"""Quantities that only lead to others."""


def _curves(name: str, of: str, eyewear: str) -> tuple[str, ...]:
    if (name, of) in NOT_CURVED:
        return ()
    if eyewear == "multifocal" and (name, of) in MULTIFOCAL:
        return MULTIFOCAL[name, of]
    if (name, of) in CURVES_OF:
        return CURVES_OF[name, of]
    return tuple(c.name for c in curves().values() if c.quantity == name)


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


def readings(state: State) -> Iterator[QuantityReading]:
    """Every quantity of every task at its place, in the modes and roles that have a share of the time.

    Parameters
    ----------
    state : State
        The workstation.
    """
    hidden = ("_severity", "_share", "_factor", "_flag", "_score")
    eyewear = str(state.values[("person", ""), "person.eyewear"])
    for task in state.tasks:
        evaluation = evaluate(state, task)
        standing = float(evaluation("stand_share"))
        modes = [m for m, never in (("sit", 1.0), ("stand", 0.0)) if standing != never]
        for name in QUANTITIES.quantities:
            if name.endswith(hidden) or name in NOT_SHOWN:
                continue
            asked = QUANTITIES.roles_of(name)
            kind = next((role for role in ("target", "hand") if role in asked), "")
            for mode in modes if "mode" in asked else modes[:1]:
                for of in ROLES[kind] if kind else ("",):
                    roles = {"mode": mode} | ({kind: of} if of else {})
                    if of and not _has_share(state, task, kind, of):
                        continue
                    if not _is_defined(name, roles):
                        continue
                    if "mode" not in asked and "sit" not in modes and _about_seat(name, roles):
                        continue
                    value = float(evaluation(name, **roles))
                    used = _curves(name, of, eyewear)
                    low, high = _range(used)
                    worst = max((float(severity(c, np.asarray(value))) for c in used), default=0.0)
                    source = " ".join(dict.fromkeys(s for c in used for s in curves()[c].sources))
                    yield QuantityReading(
                        task,
                        name,
                        _tool(state, task, of),
                        mode if "mode" in asked else "",
                        QUANTITIES.quantities[name][0].unit,
                        value,
                        low,
                        high,
                        worst,
                        source,
                        _estimated(state, task, name, roles),
                    )


def _is_defined(name: str, roles: dict[str, str]) -> bool:
    """Whether a quantity exists in these roles: paper has no top edge, for one."""
    return any(
        all(roles.get(role) == case for role, case in entry.only.items())
        for entry in QUANTITIES.quantities[name]
    )


def _about_seat(name: str, roles: dict[str, str]) -> bool:
    return any(s.startswith("seat_") for s in QUANTITIES.leaves(name, roles))


def _has_share(state: State, task: str, kind: str, of: str) -> bool:
    field = f"look.{of}" if kind == "target" else f"hands.{of}"
    return float(state.values[("task", task), field]) > 0


def _tool(state: State, task: str, of: str) -> str:
    if of == "screen":
        return str(state.values[("task", task), "task.screen"])
    return "laptop" if of == "second" else of


def _estimated(state: State, task: str, name: str, roles: dict[str, str]) -> bool:
    for symbol in QUANTITIES.leaves(name, roles):
        known = SYMBOLS[symbol]
        if (owner_of(known.level, task, state.place_of[task]), known.name) in state.assumed:
            return True
    return False
