"""Assessing a workplace as it is, or as it would be with some fixes; and two of them side by side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from deskmend.errors import InputFaults, option_fault
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import current_unit, shown_length, tr
from deskmend.planning.bill import Bill, bill_of
from deskmend.planning.explain import ExposureRow, QuantityReading, exposure_rows, readings
from deskmend.planning.fit import Lack, lacks_of
from deskmend.planning.inputs import fitting_faults, person_notes, sign_warnings, unused_warnings
from deskmend.planning.model.offers import LeftOut, OptionSpec, offers_for
from deskmend.planning.model.rules import Breach, breaches
from deskmend.planning.ready_case import standing, standing_case
from deskmend.planning.score import PLAIN, Score, score, weights_of
from deskmend.planning.selection import key_of, select, state_with
from deskmend.risk.scores.day import DayScores, scores_of
from deskmend.risk.suits import SuitRange, suits
from deskmend.workstation.body import Body
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.fields import FIELDS, Level, Value
from deskmend.workstation.state import PERSON, Owner, Slot, State, state_of

__all__ = ["Assessment", "Beside", "MeasurePair", "ReadingPair", "assess", "beside", "missing_measures"]


@dataclass(frozen=True)
class Assessment:
    """A workplace, scored.

    - `case`: what was assessed.
    - `currency`: of the cost.
    - `before`, `after`: without and with the fixes; the same where there are none.
    - `options`: the fixes asked about; where none were, what stands already.
    - `strain`, `plain`: with the person's discomfort weights, and without.
    - `now`, `plain_now`: the same of the state without fixes.
    - `bill`: what the fixes cost.
    - `quantities`: every quantity of every task.
    - `breaches`: rules that the fixes break.
    - `warnings`: what has to be said, the most important first.
    - `in_place`: what stands already; `before` is with it.
    - `invented`: whether the prices are the shipped sample's.
    """

    case: Case
    currency: str
    before: State
    after: State
    options: tuple[OptionSpec, ...]
    strain: Score
    plain: Score
    now: Score
    plain_now: Score
    bill: Bill
    quantities: tuple[QuantityReading, ...]
    breaches: tuple[Breach, ...]
    warnings: tuple[str, ...]
    invented: bool
    in_place: tuple[OptionSpec, ...] = ()

    @cached_property
    def scores(self) -> DayScores:
        """Published scores with the fixes."""
        return scores_of(self.after)

    @cached_property
    def lacks(self) -> tuple[Lack, ...]:
        """What does not fit, with the fixes."""
        return lacks_of(self.after)

    @cached_property
    def suits(self) -> tuple[SuitRange, ...]:
        """Furniture that would suit the person, at the place as it is."""
        return suits(self.before)

    @cached_property
    def exposures(self) -> tuple[ExposureRow, ...]:
        """Every exposure with the fixes; they add up to the strain."""
        return exposure_rows(self.after, weights_of(self.case))

    @cached_property
    def scores_now(self) -> DayScores:
        """Published scores without any fix."""
        return scores_of(self.before)


def assess(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    fixes: Sequence[str] = (),
    notes: Sequence[str] = (),
    option: str = "--with",
) -> Assessment:
    """Assess a case, with some fixes applied together.

    - `case`: the case.
    - `catalog`: fixes to choose from.
    - `prices`: what things cost.
    - `fixes`: named as ``[PLACE.|TASK.]FIX[=VALUE]``.
    - `notes`: warnings from before, put after those about the person.
    - `option`: by what name a fault of `fixes` is told.

    Returns
    -------
    Assessment
        Fixes that this person could not be advised are shown all the same, with a warning.

    - raises `InputFaults`: a name is wrong, or two fixes settle one decision.
    """
    faults = fitting_faults(case, catalog)
    if faults:
        raise InputFaults(faults)
    bare = state_of(case)
    case = standing_case(case, bare, catalog, faults)
    offers = offers_for(case, bare, catalog, prices, everything=True)
    in_place = standing(case, offers, catalog, prices, faults)
    options = select(fixes, offers, case, prices, catalog.by_id, option, faults)
    if faults:
        raise InputFaults(faults)
    state = state_with(bare, in_place)
    if not fixes:
        options = in_place
    try:
        after = state_with(bare, options)
    except TwoSets as error:
        raise InputFaults(
            [
                option_fault(
                    option,
                    " ".join(fixes),
                    "fixes that do not contradict",
                    note=str(error),
                )
            ]
        ) from None
    weights = weights_of(case)
    bill = bill_of(options, case, prices)
    broken = tuple(breaches(bare, after, [(o.fix, o.owner) for o in options]))
    warnings = [*sign_warnings(case, catalog)]
    gone = [one.with_name for one in in_place if key_of(one) not in map(key_of, options)]
    if gone:
        told = tr("in place, and not named, so taken away here: {fixes}", fixes=", ".join(gone))
        warnings.append(told)
    warnings += [f"{tr(b.fix.title)}: {b.reason}" for b in broken]
    warnings += [f"{tr(left.fix.title)}: {left.reason}" for left in _asked(options, offers.left_out)]
    warnings += [tr("no price for {item}: the cost leaves it out", item=item) for item in bill.missing]
    warnings += [*notes, *person_notes(case), *unused_warnings(case), *missing_measures(state)]
    return Assessment(
        case,
        prices.currency,
        state,
        after,
        options,
        score(after, weights),
        score(after, PLAIN),
        score(state, weights),
        score(state, PLAIN),
        bill,
        tuple(readings(after)),
        broken,
        tuple(dict.fromkeys(warnings)),
        prices.invented,
        in_place,
    )


def _asked(options: Sequence[OptionSpec], left_out: Sequence[LeftOut]) -> list[LeftOut]:
    asked = {(option.fix.id, option.owner) for option in options}
    return [left for left in left_out if (left.fix.id, left.owner) in asked]


def missing_measures(state: State) -> list[str]:
    """Warnings about what was not measured and had to be estimated or assumed.

    - `state`: as the case describes it.
    """
    out = []
    body = state.body
    if body.dimensions["sitting_elbow_height"].estimated:
        sd = body.dimensions["sitting_elbow_height"].sd
        out.append(
            tr(
                "sitting elbow height is not measured: stature hardly tells it (estimate {estimate}, two in "
                "three within {spread}); measure it",
                estimate=shown_length(body["sitting_elbow_height"]),
                spread=shown_length(sd).removesuffix(f" {current_unit()}"),
            )
        )
    if body.by_size_marks and body.estimated:
        out.insert(0, _size_marks_warning(body))
        return [*out, *_not_told(state)]
    sits = state.values[PERSON, "person.cannot_stand"] == "yes"
    others = [
        name
        for name in body.estimated
        if name != "sitting_elbow_height"
        and f"body.{name}" in FIELDS
        and not (sits and name.startswith("standing"))
    ]
    if others:
        told = ", ".join(tr(name.replace("_", " ")) for name in others)
        out.append(tr("estimated from stature: {measures}", measures=told))
    return [*out, *_not_told(state)]


def _size_marks_warning(body: Body) -> str:
    """What rests on size marks for children's furniture, since no survey of adults reaches this body."""
    names = [name for name in body.estimated if f"body.{name}" in FIELDS]
    return tr(
        "estimates from adults do not hold for this person: {measures} come from the size marks of school "
        "furniture and mean proportions, the hollow of the knee give or take {spread}. Measure hollow of the "
        "knee and elbow before anything is bought or made",
        measures=", ".join(tr(name.replace("_", " ")) for name in names),
        spread=shown_length(2.0 * body.spreads["popliteal_height"]),
    )


def _not_told(state: State) -> list[str]:
    """Warnings about what the case leaves out or gives as an estimate, body dimensions aside."""
    out = []
    for owner, names in _by_owner(state.guessed).items():
        out.append(tr("estimated by who told it, for {owner}: {names}; measure it", owner=owner, names=names))
    assumed = {
        (owner, name)
        for owner, name in state.assumed - state.guessed
        if not name.startswith("body.") and _worth_telling(name) and _is_used(state, owner, name)
    }
    for owner, names in _by_owner(assumed).items():
        out.append(tr("not told, so assumed, for {owner}: {names}", owner=owner, names=names))
    return out


def _is_used(state: State, owner: Owner, name: str) -> bool:
    """Where paper lies is of no use to a task without any."""
    if name != "paper.side":
        return True
    return any(float(state.values[owner, share]) > 0.0 for share in ("look.paper", "hands.writing"))


def _by_owner(slots: Iterable[Slot]) -> dict[str, str]:
    """Names of fields by who or what they belong to."""
    found: dict[str, list[str]] = {}
    for (level, owner), name in sorted(slots):
        found.setdefault(owner or level, []).append(name)
    return {owner: ", ".join(names) for owner, names in found.items()}


def _worth_telling(name: str) -> bool:
    return name in (
        "seat.slope",
        "seat.surface",
        "seat.back",
        "seat.depth",
        "feet.on",
        "desk.frame",
        "keyboard",
        "mouse",
        "task.spell",
        "paper.side",
        "light.lux",
        "person.shoes",
    )


Pair = tuple[str | None, str | None]
"""Names in the first and the second workplace; None where one has no such thing."""


@dataclass(frozen=True)
class MeasurePair:
    """One measure as both have it; None where one has no such thing."""

    level: Level
    owner: Pair
    name: str
    unit: str
    first: Value | None
    second: Value | None


@dataclass(frozen=True)
class ReadingPair:
    """One quantity of one task as both have it; None where it plays no part."""

    task: Pair
    first: QuantityReading | None
    second: QuantityReading | None

    @property
    def either(self) -> QuantityReading:
        """The reading there is."""
        one = self.first or self.second
        if one is None:
            raise ValueError("a quantity of neither")
        return one


@dataclass(frozen=True)
class Beside:
    """Two assessments and what in them belongs together."""

    first: Assessment
    second: Assessment
    tasks: tuple[Pair, ...]
    measures: tuple[MeasurePair, ...]
    quantities: tuple[ReadingPair, ...]

    @property
    def both(self) -> tuple[Assessment, Assessment]:
        """The two."""
        return self.first, self.second


def beside(first: Assessment, second: Assessment) -> Beside:
    """Put two assessments beside each other: tasks and places of one name belong together, then by order."""
    tasks = _paired(first.after.tasks, second.after.tasks)
    return Beside(
        first,
        second,
        tasks,
        tuple(_measures(first.after, second.after, tasks)),
        tuple(_readings(first.quantities, second.quantities, tasks)),
    )


def _paired(ours: Sequence[str], theirs: Sequence[str]) -> tuple[Pair, ...]:
    left = [one for one in theirs if one not in ours]
    out: list[Pair] = [(one, one if one in theirs else (left.pop(0) if left else None)) for one in ours]
    return (*out, *((None, one) for one in left))


def _measures(first: State, second: State, tasks: Sequence[Pair]) -> Iterator[MeasurePair]:
    places = _paired(first.places, second.places)
    owners: dict[Level, Sequence[Pair]] = {
        "person": [("", "")],
        "device": [("", "")],
        "place": places,
        "task": tasks,
    }
    for field in FIELDS.values():
        for owner in owners[field.level]:
            values = [
                None if name is None else _value(state, (field.level, name), field.name)
                for state, name in zip((first, second), owner, strict=True)
            ]
            if values != [None, None]:
                yield MeasurePair(field.level, owner, field.name, field.unit, *values)


def _value(state: State, owner: Owner, name: str) -> Value | None:
    if name.startswith("body."):
        return state.body[name.removeprefix("body.")]
    return state.values.get((owner, name))


def _readings(
    ours: Sequence[QuantityReading], theirs: Sequence[QuantityReading], tasks: Sequence[Pair]
) -> Iterator[ReadingPair]:
    for task in tasks:
        here, there = (
            {(one.name, one.of, one.mode): one for one in found if one.task == name}
            for found, name in zip((ours, theirs), task, strict=True)
        )
        for key in dict.fromkeys([*here, *there]):
            yield ReadingPair(task, here.get(key), there.get(key))
