"""What may be true behind what a case, prices and curves say: samples, and noise between two plans.

Lengths are off as far as a tape is, or lie around what stature tells of them; prices lie between their ends,
and ends of curves within their ranges. Every draw ends in whole millimetres, whole units of a curve and whole
minor units of money, so that no machine's last bit decides a plan.

Every measure and every estimate is off by its standard deviation, one at a time, up and down, in both plans
at once with their fixes kept. What that changes in the difference of their strains is added up in squares.
What an error does to both plans alike falls out, so a plan is told from another long before the strain of
either is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import isqrt
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from deskmend.errors import DefectError
from deskmend.intake.case import BodyMeasures, Case, Path, values_at
from deskmend.intake.case_file import find_conflicts
from deskmend.intake.prices import PricedItem, PriceTable
from deskmend.intake.reading.fields import ranges
from deskmend.intake.reading.records import is_guess, likely, spread_of
from deskmend.measures import Micro, Mm, Range
from deskmend.planning.model.options import OptionSpec, refitted
from deskmend.planning.model.tables import SlotChanges
from deskmend.planning.score import StrainAfter
from deskmend.planning.selection import moves_of
from deskmend.published import read_table
from deskmend.risk.severity import Curve, curves_with, end_ranges
from deskmend.workstation.body import DIMENSIONS, Dimension, estimate_body, residual_covariance
from deskmend.workstation.effects import by_slot
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.graph import Array
from deskmend.workstation.state import PERSON, LikeStates, Owner, State, state_of

__all__ = [
    "ALL_ERRORS",
    "LEAST_SHARE_TOLD",
    "Errors",
    "Noise",
    "Sample",
    "UncertainLength",
    "case_with",
    "draw",
    "drawn_prices",
    "residuals_given",
    "state_with_body",
    "uncertain_lengths",
]

ESTIMATE_ENDS = 2.0
"""Standard deviations of an estimate to which its ends are put [-]: some 95 in 100 lie within (judgement)."""
MOST_TRIES = 1000
"""Draws of one sample until its lengths fit each other."""
PRICE_STEPS = 1000
"""Steps between the low and the high price; bulk tiers move along with the price."""


@dataclass(frozen=True)
class Errors:
    """What is taken to be uncertain, as shares of the usual error [-]; 0: it holds.

    - `tape`: lengths that the case gives.
    - `estimates`: body dimensions estimated from stature.
    - `curves`: whether the ends of severity curves move within their stated ranges.
    - `prices`: whether prices lie between their low and high ends.
    """

    tape: float = 1.0
    estimates: float = 1.0
    curves: bool = True
    prices: bool = True


ALL_ERRORS = Errors()


@dataclass(frozen=True)
class UncertainLength:
    """One measure of a case, or one body dimension estimated for want of it.

    - `key`: what is measured, as ``places.*.seat.height``.
    - `path`: where it stands in the case.
    - `owner`: id of the place, seat or task it belongs to; empty where there is just one person or device.
    - `value`: what it most likely is: as given, less what people add when they tell it, or estimated.
    - `down`, `up`: how far the true measure may lie below and above it.
    - `sd`: standard deviation of what is true, to a tenth.
    - `unit`: mm or deg, of all of these.
    - `allowed`: range in which a case may give it.
    - `normal`: it is drawn normally distributed; else evenly between its ends.
    - `estimated`: nobody measured it, it follows from stature.
    - `given_as_guess`: the case gives it, as an estimate.
    """

    key: str
    path: Path
    owner: str
    value: Mm
    down: int
    up: int
    sd: float
    unit: str
    allowed: Range
    normal: bool = True
    estimated: bool = False
    given_as_guess: bool = False

    @property
    def can_be_taken(self) -> bool:
        """Whether a case can hold it, so that it pays to measure it."""
        return not self.estimated or str(self.path[-1]) in BodyMeasures.model_fields

    def at(self, off: int) -> Mm:
        """Length when it is off by so much [mm]."""
        return self.value + off

    def drawn(self, rng: np.random.Generator) -> Mm:
        """What it is in one world; a normal one may fall outside what a case may give."""
        if self.normal:
            return self.at(round(self.sd * float(rng.standard_normal())))
        return self.at(int(rng.integers(-self.down, self.up, endpoint=True)))


def uncertain_lengths(case: Case, errors: Errors = ALL_ERRORS) -> tuple[UncertainLength, ...]:
    """Every measure that a case gives, then every body dimension that is estimated.

    In the order of ``tables/measured_lengths.csv`` and of the case. The ends keep to whole millimetres off
    what is given and to the range in which a case may give it. What may not be off is left out.
    """
    found = []
    for row in read_table("deskmend.planning", "measured_lengths.csv"):
        for path, owner, value in values_at(case, row["path"]):
            if isinstance(value, float) and math.isfinite(value):
                found.append(_given(row["path"], path, owner, value, row["range"], int(row["error"]), errors))
    body = state_of(case).body
    for name in body.estimated:
        if f"body.{name}" in FIELDS:
            field = FIELDS[f"body.{name}"]
            reach = round(ESTIMATE_ENDS * body.dimensions[name].sd * errors.estimates)
            down, up = _ends(body[name], reach, field.low, field.high)
            path, sd = ("person", "body", name), round(body.dimensions[name].sd * errors.estimates, 1)
            allowed = Range("length", field.low, field.high)
            found.append(
                UncertainLength(
                    f"person.body.{name}", path, "", body[name], down, up, sd, "mm", allowed, estimated=True
                )
            )
    return tuple(one for one in found if one.down or one.up)


def _given(
    key: str, path: Path, owner: str, value: float, row: str, error: int, errors: Errors
) -> UncertainLength:
    """A measure that the case gives: off by what it says of itself, else by what a tape may be off."""
    allowed, spread = ranges()[row], spread_of(value, row)
    unit = "deg" if allowed.kind == "angle" else "mm"
    middle = min(max(likely(value, row), allowed.low), allowed.high)
    if spread is not None:
        sd = round(spread.sd * errors.tape, 1)
        down, up = _ends(middle, round(ESTIMATE_ENDS * sd), allowed.low, allowed.high)
        guess = is_guess(value)
        return UncertainLength(key, path, owner, middle, down, up, sd, unit, allowed, given_as_guess=guess)
    reach = int(error * errors.tape)
    down, up = _ends(middle, reach, allowed.low, allowed.high)
    return UncertainLength(
        key, path, owner, middle, down, up, round(reach / math.sqrt(3.0), 1), unit, allowed, normal=False
    )


def _ends(value: Mm, reach: int, low: Mm, high: Mm) -> tuple[int, int]:
    """How far a length may be off below and above [mm], within the range it may be given in."""
    return max(0, min(reach, math.floor(value - low))), max(0, min(reach, math.floor(high - value)))


def case_with(case: Case, lengths: Mapping[Path, Mm]) -> Case:
    """Case with other lengths."""
    out: Any = case
    for path, value in lengths.items():
        out = _put(out, path, value)
    changed: Case = out
    return changed


def _put(node: Any, path: Path, value: Mm) -> Any:
    if not path:
        return value
    first, rest = path[0], path[1:]
    if isinstance(first, int):
        return (*node[:first], _put(node[first], rest, value), *node[first + 1 :])
    return node.model_copy(update={first: _put(getattr(node, first), rest, value)})


def state_with_body(state: State, lengths: Mapping[str, Mm]) -> State:
    """State of a person whose estimated dimensions are others; they stay marked as estimated."""
    if not lengths:
        return state
    dimensions = dict(state.body.dimensions)
    for name, value in lengths.items():
        dimensions[name] = Dimension(value, True, dimensions[name].sd)
    others = {(PERSON, f"body.{name}"): value for name, value in lengths.items()}
    body = replace(state.body, dimensions=dimensions)
    return replace(state, values=MappingProxyType({**state.values, **others}), body=body)


@dataclass(frozen=True)
class Sample:
    """One world that what is known may stand for."""

    case: Case
    state: State
    prices: PriceTable
    curves: Mapping[str, Curve]


def draw(
    case: Case,
    prices: PriceTable,
    lengths: Sequence[UncertainLength],
    errors: Errors,
    seed: int,
    number: int,
) -> Sample:
    """Draw one sample; seed and number settle it, so the first of many samples are those of a few.

    Measures, from `uncertain_lengths` for the same errors, are uniform within their ends where a tape was
    used, normal where the case says how sure they are, and normal given stature and what is measured where
    estimated; ends of curves and prices are uniform. Lengths that contradict each other are drawn again.
    """
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, number])))
    given = _conflicts(case)
    taken = [one for one in lengths if not one.estimated]
    for _ in range(MOST_TRIES):
        drawn = {one.path: one.drawn(rng) for one in taken}
        changed = case_with(case, drawn)
        body = _drawn_body(changed, rng, errors.estimates)
        within = all(drawn[one.path] in one.allowed for one in taken)
        if within and body is not None and _conflicts(changed) <= given:
            break
    else:
        raise DefectError("no sample whose lengths fit each other was found")
    ends = {}
    if errors.curves:
        ends = {
            (one.curve, one.end): float(rng.integers(one.low, one.high, endpoint=True))
            for one in end_ranges()
        }
    told = drawn_prices(prices, rng) if errors.prices else prices
    return Sample(changed, state_with_body(state_of(changed), body), told, curves_with(ends))


def _conflicts(case: Case) -> frozenset[Path]:
    """Places in a case whose values contradict each other."""
    shown = case.model_dump(mode="json", include={"person", "places", "devices", "tasks"})
    return frozenset(conflict.loc for conflict in find_conflicts(shown))


def _drawn_body(case: Case, rng: np.random.Generator, share: float) -> dict[str, Mm] | None:
    """Estimated dimensions of one possible body; None where one of them is out of all range."""
    if not share:
        return {}
    measured = {name: getattr(case.person.body, name, None) for name in DIMENSIONS}
    known = tuple(name for name in DIMENSIONS if measured[name] is not None)
    names = tuple(name for name in DIMENSIONS if measured[name] is None and f"body.{name}" in FIELDS)
    if not names:
        return {}
    fit = estimate_body(case.person.likely_stature, case.person.sex, {}, case.person.age)
    off = np.array([float(measured[name] or 0.0) - fit[name] for name in known])
    mean, factor = residuals_given(names, known, off, fit.spreads)
    normal = [float(one) for one in rng.standard_normal(len(names))]
    out = {}
    for row, name in enumerate(names):
        # added up one by one, since the last bit of a matrix product differs between machines
        spread = sum(float(factor[row, k]) * normal[k] for k in range(row + 1))
        out[name] = float(round(fit[name] + share * (float(mean[row]) + spread)))
        field = FIELDS[f"body.{name}"]
        if not field.low <= out[name] <= field.high:
            return None
    return out


def residuals_given(
    names: tuple[str, ...], known: tuple[str, ...], off: npt.NDArray[np.float64], spreads: Mapping[str, float]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Residuals of some dimensions when those of others are known.

    - `names`, `known`: dimensions asked for, and those measured.
    - `off`: measured less estimated from stature [mm].
    - `spreads`: standard deviations of all of them, as a body gives them [mm].

    Returns
    -------
    mean : ndarray, shape (n,)
        Expected residuals [mm].
    factor : ndarray, shape (n, n)
        Lower triangular; times its transpose it is their covariance [mm2]. Both to a millionth of a mm.

    Notes
    -----
    Multivariate normal residuals with the correlations of ``ansur_ii`` (published data); that they are normal
    is a judgement.
    """
    cov = residual_covariance((*names, *known), spreads)
    count = len(names)
    own, cross, rest = cov[:count, :count], cov[:count, count:], cov[count:, count:]
    if known:
        weights = np.linalg.solve(rest, cross.T).T
        mean, own = weights @ off, own - weights @ cross.T
    else:
        mean = np.zeros(count)
    return np.round(mean, 6), np.round(np.linalg.cholesky((own + own.T) / 2.0), 6)


def drawn_prices(prices: PriceTable, rng: np.random.Generator) -> PriceTable:
    """Prices somewhere between their low and high ends; an item's bulk tiers lie as far up as its price."""
    return replace(
        prices,
        items={
            name: _priced(priced, int(rng.integers(0, PRICE_STEPS, endpoint=True)))
            for name, priced in prices.items.items()
        },
    )


def _priced(priced: PricedItem, step: int) -> PricedItem:
    def between(low: int, high: int) -> int:
        return low + (high - low) * step // PRICE_STEPS

    tiers = tuple(tier._replace(price=between(tier.low, tier.high)) for tier in priced.tiers)
    return replace(priced, price=between(priced.low, priced.high), tiers=tiers)


LEAST_SHARE_TOLD = 100
"""A difference is worth telling where it is more than one part in so many of today's strain (judgement)."""

LIGHT_OFF = 0.2
"""Standard deviation of light read off a telephone or a plain meter, as a share of it (judgement: what meters
of the simplest class may be off, from memory)."""

World = tuple[Case, State]
"""What may be there instead of what the case says."""
PlanKey = frozenset[tuple[Owner, str]]


class _Strains:
    """Strains of plans of one case in some worlds, each plan scored once."""

    def __init__(self, worlds: Sequence[World], weights: Mapping[str, float]) -> None:
        self._cases = [case for case, _ in worlds]
        self._after = StrainAfter([state for _, state in worlds], weights)
        self._known: dict[PlanKey, list[Micro]] = {}

    def know(self, plans: Iterable[Sequence[OptionSpec]]) -> None:
        """Score many plans at once."""
        waiting = {_key(plan): plan for plan in plans}
        fresh = [(key, plan) for key, plan in waiting.items() if key not in self._known]
        strains = self._after.of([self._done(plan) for _, plan in fresh])
        self._known.update((key, found) for (key, _), found in zip(fresh, strains, strict=True))

    def strains_of(self, plan: Sequence[OptionSpec]) -> list[Micro]:
        """Strain of a plan in each world."""
        key = _key(plan)
        if key not in self._known:
            self.know([plan])
        return self._known[key]

    def _done(self, plan: Sequence[OptionSpec]) -> tuple[list[SlotChanges], dict[str, str]]:
        """What a plan changes, in all worlds alike or in each of them, and what it moves."""
        moves = moves_of(plan)
        if all(refitted(option, self._cases[0]) is option for option in plan):
            return [by_slot(change for option in plan for change in option.changes)], moves
        fitted = ([refitted(option, case) for option in plan] for case in self._cases)
        return [by_slot(change for one in there for change in one.changes) for there in fitted], moves


class Noise:
    """How far strains of plans of one case may be off against each other; a plan is the options it takes.

    - `case`, `state`: what the case says.
    - `weights`: of the regions [-].
    """

    def __init__(self, case: Case, state: State, weights: dict[str, float]) -> None:
        self._case, self._state, self._weights = case, state, weights
        self._ends: dict[Path, tuple[World, ...]] = {}
        self._states = LikeStates()

    def strain(self, options: Iterable[OptionSpec]) -> Micro:
        """Strain that a plan leaves where every measure and estimate holds."""
        return self._strains_of(tuple(options))[0]

    def strains(self, plans: Sequence[Sequence[OptionSpec]]) -> list[Micro]:
        """The same of many plans at once."""
        self.know(plans)
        return [self.strain(plan) for plan in plans]

    def sd(self, one: Iterable[OptionSpec], other: Iterable[OptionSpec]) -> Micro:
        """Standard deviation of the difference of strain of two plans, rounded down to whole units."""
        return isqrt(self._variance_twice(tuple(one), tuple(other)) // 2)

    def distinguishable(self, one: Iterable[OptionSpec], other: Iterable[OptionSpec]) -> bool:
        """Whether the strains of two plans differ by more than their noise and by what is worth telling."""
        plans = tuple(one), tuple(other)
        difference = abs(self._strains_of(plans[0])[0] - self._strains_of(plans[1])[0])
        if LEAST_SHARE_TOLD * difference <= self._now:
            return False
        return 2 * difference**2 > self._variance_twice(*plans)

    def least_sure(
        self, one: Sequence[OptionSpec], other: Sequence[OptionSpec]
    ) -> tuple[UncertainLength, Micro] | None:
        """Measure or estimate that moves the difference of two plans most when it alone is off by its SD.

        With it by how much, over both its ends. None where nothing moves it.
        """
        length, by = max(self.moves(one, other), key=lambda each: each[1], default=(None, 0))
        return (length, by) if length is not None and by else None

    def hides(self, better: Sequence[OptionSpec], given: Sequence[OptionSpec]) -> UncertainLength | None:
        """Measure that moves their difference most, where that would be worth telling; else None."""
        if LEAST_SHARE_TOLD * (self.strain(given) - self.strain(better)) <= self._now:
            return None
        found = self.least_sure(better, given)
        return None if found is None else found[0]

    def moves(
        self, one: Sequence[OptionSpec], other: Sequence[OptionSpec]
    ) -> list[tuple[UncertainLength, Micro]]:
        """Every measure and estimate, with how far each alone moves the difference of two plans."""
        self._alone.know((one, other))
        here, there = self._alone.strains_of(one), self._alone.strains_of(other)
        said, *rest = (a - b for a, b in zip(here, there, strict=True))
        ends_of = iter(rest)
        return [
            (length, isqrt(sum((next(ends_of) - said) ** 2 for _ in ends) // len(ends)))
            for length, ends in self._ends_alone
        ]

    @cached_property
    def _lengths(self) -> tuple[UncertainLength, ...]:
        return uncertain_lengths(self._case)

    @cached_property
    def _ends_alone(self) -> list[tuple[UncertainLength, tuple[World, ...]]]:
        """Every measure and estimate that can be off, with its worlds."""
        found = ((length, self._off_alone(length)) for length in self._lengths)
        return [(length, ends) for length, ends in found if ends]

    @cached_property
    def _alone(self) -> _Strains:
        """Strains as the case says, then in the worlds of every measure and estimate alone."""
        worlds = (world for _, ends in self._ends_alone for world in ends)
        return _Strains(((self._case, self._state), *worlds), self._weights)

    def variance(self, of: Callable[[State], Array]) -> Array:
        """Variance that the errors leave of what follows from a state as it is, figure by figure."""
        said = of(self._state)
        offs = [of(state) - said for _, state in self._worlds[1:]]
        out: Array = np.zeros_like(said)
        for weight, off in zip(self._halves, offs, strict=True):
            out += 0.5 * weight * off**2
        return out

    def _off_alone(self, length: UncertainLength) -> tuple[World, ...]:
        if not length.estimated:
            return self._measured(length)
        name = str(length.path[-1])
        offs = [length.value + sign * length.sd for sign in (-1.0, 1.0)]
        return tuple(
            (self._case, state_with_body(self._state, {name: value}))
            for value in offs
            if _possible({name: value})
        )

    def know(self, plans: Iterable[Sequence[OptionSpec]]) -> None:
        """Score many plans at once that will be asked about, which takes far less than one by one."""
        self._together.know(plans)

    def _strains_of(self, plan: Sequence[OptionSpec]) -> list[Micro]:
        return self._together.strains_of(plan)

    @cached_property
    def _together(self) -> _Strains:
        """Strains in the worlds."""
        return _Strains(self._worlds, self._weights)

    @cached_property
    def _now(self) -> Micro:
        return self._strains_of(())[0]

    def _variance_twice(self, one: Sequence[OptionSpec], other: Sequence[OptionSpec]) -> int:
        """Twice the variance of the difference; whole, since the mean of two ends of a measure is not."""
        here, there = self._strains_of(one), self._strains_of(other)
        difference = here[0] - there[0]
        offs = [a - b - difference for a, b in zip(here[1:], there[1:], strict=True)]
        return sum(weight * off**2 for weight, off in zip(self._halves, offs, strict=True))

    @cached_property
    def _worlds(self) -> tuple[World, ...]:
        return ((self._case, self._state), *(world for ends in self._off for world in ends))

    @cached_property
    def _halves(self) -> list[int]:
        """Halves of a square that each world but the first counts: two where it is the only end."""
        return [2 // len(ends) for ends in self._off for _ in ends]

    @cached_property
    def _off(self) -> tuple[tuple[World, ...], ...]:
        """Worlds of each measure and estimate: up and down by its standard deviation, as far as it may be."""
        taken = [one for one in self._lengths if not one.estimated]
        found = [self._measured(length) for length in taken]
        return tuple(ends for ends in (*found, *self._lit(), *self._estimated()) if ends)

    def _measured(self, length: UncertainLength) -> tuple[World, ...]:
        if length.path not in self._ends:
            offs = [-length.sd] * (length.down >= length.sd) + [length.sd] * (length.up >= length.sd)
            cases = [case_with(self._case, {length.path: length.value + off}) for off in offs]
            self._ends[length.path] = tuple((case, self._states.of(case)) for case in cases)
        return self._ends[length.path]

    def _lit(self) -> Iterator[tuple[World, ...]]:
        """Worlds of the light that is measured at each place."""
        for number, place in enumerate(self._case.places):
            lux = place.light.lux
            if lux is None:
                continue
            spread, allowed = spread_of(lux, "light.lux"), ranges()["light.lux"]
            sd = LIGHT_OFF * lux if spread is None else spread.sd
            cases = [
                case_with(self._case, {("places", number, "light", "lux"): lux + off})
                for off in (-sd, sd)
                if lux + off in allowed
            ]
            yield tuple((case, self._states.of(case)) for case in cases)

    def _estimated(self) -> list[tuple[World, ...]]:
        """Worlds of estimates, which go together: each moves all by a column of their covariance's root.

        What the columns add up to in squares is the variance with all correlations.
        """
        body = self._state.body
        names = tuple(name for name in body.estimated if f"body.{name}" in FIELDS)
        if not names:
            return []
        known = tuple(name for name in DIMENSIONS if not body.dimensions[name].estimated)
        _, factor = residuals_given(names, known, np.zeros(len(known)), body.spreads)
        out = []
        for column in factor.T:
            offs = [round(float(off), 1) for off in column]
            ends = [
                state_with_body(self._state, lengths)
                for sign in (-1.0, 1.0)
                if _possible(lengths := {n: body[n] + sign * off for n, off in zip(names, offs, strict=True)})
            ]
            out.append(tuple((self._case, state) for state in ends))
        return out


def _possible(lengths: dict[str, Mm]) -> bool:
    """Whether body dimensions lie within their ranges."""
    return all(FIELDS[f"body.{n}"].low <= one <= FIELDS[f"body.{n}"].high for n, one in lengths.items())


def _key(plan: Iterable[OptionSpec]) -> PlanKey:
    return frozenset((option.owner, option.name) for option in plan)
