"""What one measure being off does to a plan: whether others are best, and what keeping to it would cost.

Measures of a case and how far off each may be: taken with a tape, or estimated from stature.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from deskmend.choice import Choice, solve
from deskmend.errors import InputFaults
from deskmend.intake.case import BodyMeasures, Case
from deskmend.intake.reading.fields import ranges
from deskmend.planning.bill import bill_of
from deskmend.planning.model.offers import KEEP, OptionSpec
from deskmend.planning.model.rules import breaches
from deskmend.planning.prepared import NoPlan, Prepared
from deskmend.planning.score import score
from deskmend.planning.selection import state_with
from deskmend.published import read_table
from deskmend.workstation.body import Dimension
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import PERSON, Owner, State, state_of

__all__ = [
    "AtEnd",
    "FixKey",
    "Flip",
    "Held",
    "Measure",
    "MeasureEffect",
    "Replanner",
    "case_with",
    "key_of",
    "keys_of",
    "measures_of",
    "state_with_body",
]

Path = tuple[str | int, ...]

ESTIMATE_ENDS = 2.0
"""Standard deviations of an estimate to which its ends are put [-]: some 95 in 100 lie within (judgement)."""


@dataclass(frozen=True)
class Measure:
    """One length of a case, or one body dimension estimated for want of it.

    Attributes
    ----------
    key : str
        What is measured, as ``places.*.seat.height``.
    path : tuple of str or int
        Where it stands in the case.
    owner : str
        Id of the place, seat or task it belongs to; empty where there is just one person or device.
    value : float
        As given or estimated [mm].
    down, up : int
        How far the true length may lie below and above it [mm].
    estimated : bool
        Nobody measured it.
    """

    key: str
    path: Path
    owner: str
    value: float
    down: int
    up: int
    estimated: bool = False

    @property
    def can_be_taken(self) -> bool:
        """Whether a case can hold it, so that it pays to measure it."""
        return not self.estimated or str(self.path[-1]) in BodyMeasures.model_fields

    def at(self, off: int) -> float:
        """Length when it is off by so much [mm]."""
        return self.value + off


@dataclass(frozen=True)
class _Kind:
    key: str
    parts: tuple[str, ...]
    low: float
    high: float
    error: int


@cache
def _kinds() -> tuple[_Kind, ...]:
    out = []
    for row in read_table("deskmend.planning", "measured_lengths.csv"):
        taken = ranges()[row["range"]]
        parts = tuple(row["path"].split("."))
        out.append(_Kind(row["path"], parts, taken.low, taken.high, int(row["error"])))
    return tuple(out)


def measures_of(case: Case, tape: float = 1.0, estimates: float = 1.0) -> tuple[Measure, ...]:
    """Every length that a case gives, then every body dimension that is estimated.

    Parameters
    ----------
    case : Case
        The case.
    tape, estimates : float
        Share of the usual error that measured lengths, and estimates, may have [-]; 0: they hold.

    Returns
    -------
    tuple of Measure
        In the order of ``tables/measured_lengths.csv`` and of the case. The ends keep to whole millimetres
        off what is given and to the range in which a case may give it. What may not be off is left out.
    """
    found = [one for kind in _kinds() for one in _found(case, kind, int(kind.error * tape))]
    body = state_of(case).body
    for name in body.estimated:
        if f"body.{name}" in FIELDS:
            field, value = FIELDS[f"body.{name}"], body[name]
            reach = round(ESTIMATE_ENDS * body.dimensions[name].sd * estimates)
            path = ("person", "body", name)
            found.append(_measure(f"person.body.{name}", path, "", value, reach, field.low, field.high, True))
    return tuple(one for one in found if one.down or one.up)


def _measure(
    key: str, path: Path, owner: str, value: float, reach: int, low: float, high: float, estimated: bool
) -> Measure:
    down = max(0, min(reach, math.floor(value - low)))
    up = max(0, min(reach, math.floor(high - value)))
    return Measure(key, path, owner, value, down, up, estimated)


def _found(case: Case, kind: _Kind, reach: int) -> Iterator[Measure]:
    for path, owner, value in _walk(case, kind.parts, (), ""):
        if isinstance(value, float) and math.isfinite(value):
            yield _measure(kind.key, path, owner, value, reach, kind.low, kind.high, False)


def _walk(node: Any, parts: tuple[str, ...], path: Path, owner: str) -> Iterator[tuple[Path, str, Any]]:
    """Follow a pattern through records; ``*`` stands for each member of a list."""
    if node is None or not parts:
        yield path, owner, node
        return
    first, rest = parts[0], parts[1:]
    if first == "*":
        for number, member in enumerate(node):
            yield from _walk(member, rest, (*path, number), member.id)
    elif first.isdigit():
        yield from _walk(node[int(first)], rest, (*path, int(first)), owner)
    else:
        yield from _walk(getattr(node, first), rest, (*path, first), owner)


def case_with(case: Case, lengths: Mapping[Path, float]) -> Case:
    """Case with other lengths.

    Parameters
    ----------
    case : Case
        The case.
    lengths : mapping
        Length by path [mm].
    """
    out: Any = case
    for path, value in lengths.items():
        out = _put(out, path, value)
    changed: Case = out
    return changed


def _put(node: Any, path: Path, value: float) -> Any:
    if not path:
        return value
    first, rest = path[0], path[1:]
    if isinstance(first, int):
        return (*node[:first], _put(node[first], rest, value), *node[first + 1 :])
    return node.model_copy(update={first: _put(getattr(node, first), rest, value)})


def state_with_body(state: State, lengths: Mapping[str, float]) -> State:
    """State of a person whose estimated dimensions are others.

    Parameters
    ----------
    state : State
        The state.
    lengths : mapping of str to float
        Length by dimension [mm]; they stay marked as estimated.
    """
    if not lengths:
        return state
    dimensions = dict(state.body.dimensions)
    for name, value in lengths.items():
        dimensions[name] = Dimension(value, True, dimensions[name].sd)
    changed = state.with_values({(PERSON, f"body.{name}"): value for name, value in lengths.items()})
    return replace(changed, body=replace(state.body, dimensions=dimensions))


FixKey = tuple[str, Owner]
"""Id of a fix and whom it is for, at whatever size."""

AS_PLANNED, RESIZED, IMPOSSIBLE = "as_planned", "other_sizes", "not_possible"


def key_of(option: OptionSpec) -> FixKey:
    """Fix and owner of an option."""
    return option.fix.id, option.owner


def keys_of(options: tuple[OptionSpec, ...]) -> frozenset[FixKey]:
    """Fixes of a plan, sizes aside."""
    return frozenset(key_of(option) for option in options)


@dataclass(frozen=True)
class Held:
    """The plan as it is, kept to where something else is true.

    Attributes
    ----------
    how : str
        ``as_planned``: with the same sizes; ``other_sizes``: the same fixes, at the sizes that are best
        there, where the planned ones are not allowed; ``not_possible``: not even so.
    strain : int or None
        What it leaves [millionths of h/day]; None where it is not possible.
    """

    how: str
    strain: int | None


@dataclass(frozen=True)
class AtEnd:
    """The best plan with one measure at one of its ends.

    Attributes
    ----------
    value : float
        The measure there [mm].
    strain : int or None
        What the best plan leaves there [millionths of h/day]; None where there is no plan.
    held : Held
        The plan as it is, there.
    enters, leaves : tuple of FixKey
        Fixes that only the best plan there, and only the plan as it is, holds.
    """

    value: float
    strain: int | None
    held: Held
    enters: tuple[FixKey, ...]
    leaves: tuple[FixKey, ...]

    @property
    def flips(self) -> bool:
        """Whether other fixes are best there."""
        return bool(self.enters or self.leaves)

    @property
    def regret(self) -> int | None:
        """Strain lost by keeping to the plan [millionths of h/day]; None where it cannot be kept to."""
        if self.strain is None or self.held.strain is None:
            return None
        return self.held.strain - self.strain


@dataclass(frozen=True)
class MeasureEffect:
    """What it does when one measure alone is off as far as it may be.

    Attributes
    ----------
    measure : Measure
        Which.
    ends : tuple of AtEnd
        Below, then above; an end that the measure cannot reach is left out.
    """

    measure: Measure
    ends: tuple[AtEnd, ...]

    @property
    def flips(self) -> bool:
        """Whether other fixes are best at one of its ends."""
        return any(end.flips for end in self.ends)

    @property
    def worst(self) -> AtEnd:
        """End at which most is lost by keeping to the plan."""
        return max(self.ends, key=lambda end: (end.regret is None, end.regret or 0, end.flips))

    @property
    def stake(self) -> tuple[bool, int]:
        """How much hangs on it: whether the plan may not be possible at all, then the largest regret."""
        regrets = [end.regret for end in self.ends]
        return None in regrets, max((one for one in regrets if one is not None), default=0)


@dataclass(frozen=True)
class Flip:
    """Where the fixes of the best plan change as one measure goes to an end.

    Attributes
    ----------
    stays_at, flips_at : float
        Neighbouring whole millimetres off: the fixes stay at the first and are others at the second [mm].
    """

    stays_at: float
    flips_at: float


class Replanner:
    """Plans a case anew with single measures off.

    Parameters
    ----------
    case : Case
        As given.
    options : tuple of OptionSpec
        Its plan.
    prepared : callable
        Makes a case and state ready; may raise `NoPlan`.
    solved : callable
        Gives the best choice within the limits.
    money, minutes : int or None
        The limits.
    """

    def __init__(
        self,
        case: Case,
        options: tuple[OptionSpec, ...],
        prepared: Callable[[Case, State], Prepared],
        solved: Callable[[Prepared], Choice],
        money: int | None,
        minutes: int | None,
    ) -> None:
        self._case, self._options, self._prepared, self._solved = case, options, prepared, solved
        self._money, self._minutes = money, minutes
        self._keys = keys_of(options)

    def effect(self, measure: Measure) -> MeasureEffect:
        """Plan with a measure at each of its ends."""
        offs = [-measure.down] * bool(measure.down) + [measure.up] * bool(measure.up)
        return MeasureEffect(measure, tuple(self.at(measure, off) for off in offs))

    def at(self, measure: Measure, off: int) -> AtEnd:
        """Plan with a measure off by so much [mm]."""
        value = measure.at(off)
        if measure.estimated:
            case = self._case
            state = state_with_body(state_of(case), {str(measure.path[-1]): value})
        else:
            case = case_with(self._case, {measure.path: value})
            state = state_of(case)
        try:
            ready = self._prepared(case, state)
        except (NoPlan, InputFaults):  # what must be in the plan may not be on offer there
            return AtEnd(value, None, Held(IMPOSSIBLE, None), (), tuple(sorted(self._keys)))
        choice = self._solved(ready)
        if not choice.found:
            return AtEnd(value, None, Held(IMPOSSIBLE, None), (), tuple(sorted(self._keys)))
        there = keys_of(ready.options_of(choice))
        return AtEnd(
            value,
            choice.value + ready.model.fixed_strain,
            self._held(ready),
            tuple(sorted(there - self._keys)),
            tuple(sorted(self._keys - there)),
        )

    def _held(self, ready: Prepared) -> Held:
        """Keep to the plan where another state is true."""
        same = self._same_options(ready)
        if same is not None:
            strain = self._strain_of(ready, same)
            if strain is not None:
                return Held(AS_PLANNED, strain)
        problem = ready.problem(self._money, self._minutes)
        offered = {key_of(option) for offer in ready.offers.decisions for option in offer.options}
        if not self._keys <= offered:
            return Held(IMPOSSIBLE, None)
        forbidden: list[dict[str, str | int]] = []
        for offer in ready.offers.decisions:
            kept = [option.name for option in offer.options if key_of(option) in self._keys]
            names = [KEEP, *(option.name for option in offer.options)]
            forbidden += [{offer.name: n} for n in names if n not in (kept or [KEEP])]
        choice = solve(replace(problem, forbidden=(*problem.forbidden, *forbidden)))
        if not choice.found:
            return Held(IMPOSSIBLE, None)
        return Held(RESIZED, choice.value + ready.model.fixed_strain)

    def _same_options(self, ready: Prepared) -> tuple[OptionSpec, ...] | None:
        """Options of the plan as they are offered there; None where one is not."""
        offered = {(o.name, o.owner): o for offer in ready.offers.decisions for o in offer.options}
        names = [(option.name, option.owner) for option in self._options]
        return tuple(offered[name] for name in names) if all(n in offered for n in names) else None

    def _strain_of(self, ready: Prepared, options: tuple[OptionSpec, ...]) -> int | None:
        """Strain that these very options leave; None where a rule or the money forbids them."""
        try:
            after = state_with(ready.state, options)
        except TwoSets:
            return None
        bill = bill_of(options, ready.case, ready.prices)
        if bill.missing or (self._money is not None and bill.total > self._money):
            return None
        if breaches(ready.state, after, [(o.fix, o.owner) for o in options]):
            return None
        return score(after, ready.weights).total

    def flip(self, effect: MeasureEffect) -> Flip | None:
        """Find where the fixes change, by halving, towards the worst end if they do there, else the other."""
        measure = effect.measure
        ends = sorted(effect.ends, key=lambda end: end is not effect.worst)
        offs = [round(end.value - measure.value) for end in ends if end.flips]
        if not offs:
            return None
        stays, flips = 0, offs[0]
        while abs(flips - stays) > 1:
            middle = (stays + flips) // 2
            if self.at(measure, middle).flips:
                flips = middle
            else:
                stays = middle
        return Flip(measure.at(stays), measure.at(flips))
