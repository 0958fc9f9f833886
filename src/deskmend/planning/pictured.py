"""What pictures tell of a workplace: measures, posture, the case with them, what the plan hangs on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from deskmend.intake.case import Case, values_at
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.given_measure import GivenMeasure
from deskmend.language import tr
from deskmend.measures import Micro
from deskmend.picture.doubts import Doubt
from deskmend.picture.measuring import PictureMeasure, PictureMeasures, ToTape, measure_pictures
from deskmend.picture.merging import REPLACED, Merged, merge
from deskmend.planning.draws import UncertainLength
from deskmend.planning.observed import ObservedPosture, observed_posture
from deskmend.planning.plan import planned
from deskmend.planning.prepared import NoPlan, prepare

__all__ = ["Pictured", "PlanTape", "TapeForPlan", "measure_workplace", "plan_tape"]


@dataclass(frozen=True)
class TapeForPlan:
    """A length that the plan hangs on and nobody has taped."""

    length: UncertainLength
    moves: Micro
    """What the plan takes off moves by so much when this alone is off by its standard deviation."""


@dataclass(frozen=True)
class PlanTape:
    """What to tape, by what it could change in the plan, the most first."""

    rows: tuple[TapeForPlan, ...]
    no_plan: str = ""
    """Why there is none that does anything; empty where there is one."""


@dataclass(frozen=True)
class Pictured:
    """Everything that pictures tell of a workplace; of a case only where one was given."""

    told: PictureMeasures
    posture: ObservedPosture
    merged: Merged | None = None
    plan_tape: PlanTape | None = None

    @property
    def measures(self) -> tuple[PictureMeasure, ...]:
        """Lengths and angles with their intervals."""
        return self.told.measures

    @property
    def tape(self) -> tuple[ToTape, ...]:
        """Lengths better taped, ordered by how much surer all measures become."""
        return self.told.tape

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What seems wrong with the marks."""
        return self.told.doubts


def measure_workplace(
    files: Sequence[tuple[str | Path, str | Path]],
    case_file: str | Path | None = None,
    place: str | None = None,
    confirmed: bool = False,
) -> Pictured:
    """Measure from pictures of one scene, each with its marks, and put what was measured into a case.

    `InputFaults` with every fault of pictures, marks and case, or where the case does not say which place.
    """
    case = None if case_file is None else load_case(case_file)
    told = measure_pictures(files, None if case is None else case.person.stature)
    if case is None or case_file is None:
        return Pictured(told, observed_posture(told))
    merged = merge(told, case_file, place, confirmed)
    return Pictured(told, observed_posture(told, merged.case, merged.place), merged)


def plan_tape(case: Case, catalog: Catalog, prices: PriceTable) -> PlanTape:
    """Order what is not taped in a case by what it could change in the plan within the case's own limits."""
    try:
        ready = prepare(case, catalog, prices)
        options = ready.options_of(planned(ready).choice)
    except NoPlan as error:
        return PlanTape((), error.hinders)
    if not options:
        return PlanTape((), tr("nothing is worth doing within its limits"))
    moves = ready.noise.moves((), options)
    open_still = [TapeForPlan(length, by) for length, by in moves if by and _can_be_taped(case, length)]
    return PlanTape(tuple(sorted(open_still, key=lambda one: -one.moves)))


def _can_be_taped(case: Case, length: UncertainLength) -> bool:
    if length.estimated:
        return length.can_be_taken
    given = {path: value for path, _, value in values_at(case, length.key)}[length.path]
    return isinstance(given, GivenMeasure) and given.origin in REPLACED
