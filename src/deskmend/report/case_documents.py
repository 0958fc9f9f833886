"""What the JSON documents of one case hold, key by key: the records their writers return.

A key that a writer adds or leaves out is refused by the type checker until it stands here; `docs/schemas` is
then made anew by ``python -m tests.docs.schemas``, and tests hold every document they see against it. A
record with a format is a document.

Money is decimal text in the document's currency, strain is strain-hours a day with six decimals, other
figures have three decimals and the unit that stands beside them. A key that need not be there is
`NotRequired`; None says that there is no such figure.
"""

from __future__ import annotations

from typing import Any, Literal, NotRequired

from typing_extensions import TypedDict

Money = str
Strain = float
ByRegion = dict[str, Strain]
ScoresDocument = dict[str, Any]
"""Scores by the name of each registered method, with its means; a method of one's own adds its keys."""


class Bought(TypedDict):
    """One thing that is bought, with what all its packs cost."""

    item: str
    packs: int
    cost: Money | None


class Evidence(TypedDict):
    """One finding behind a fix."""

    source: str
    title: str
    where: str | None
    n: int | None
    finding: str
    grade: str
    tested: str
    verdict: str


class SuitRecord(TypedDict):
    """A range of furniture that suits the body [mm]."""

    low: float | None
    high: float | None
    unit: str
    source: str
    estimated: bool


class LackRecord(TypedDict):
    """What does not fit, by how much, what would, and whether any choice may mend it."""

    place: str
    what: str
    by: float
    unit: str
    would_fit: str
    can_be_mended: bool | None


class FitRecord(TypedDict):
    """Whether the body fits the furniture."""

    fits: bool
    lacks: list[LackRecord]


class ExposureRecord(TypedDict):
    """One exposure; strains add up to the total, and of two of which one counts the other has none."""

    task: str
    place: str
    name: str
    of: str | None
    mode: str
    quantity: str | None
    region: str
    hours: float
    severity: float
    share: float
    spell_factor: float
    weight: float
    discomfort_factor: float
    strain: Strain
    instead: str | None


# --- assess ------------------------------------------------------------------------------------------


class AssessedStrain(TypedDict):
    """Strain with the fixes asked about, and without any."""

    total: Strain
    by_region: ByRegion
    plain_total: Strain
    plain_by_region: ByRegion
    without_fixes: Strain
    plain_without_fixes: Strain


class Reading(TypedDict):
    """One quantity of one task against its range."""

    task: str
    name: str
    of: str | None
    mode: str | None
    value: float | None
    unit: str
    low: float | None
    high: float | None
    severity: float | None
    source: str
    estimated: bool


class BrokenRule(TypedDict):
    """A rule that a fix breaks."""

    fix: str
    reason: str


_AssessedWith = TypedDict("_AssessedWith", {"with": list[str]})


class AssessmentDocument(_AssessedWith):
    """A workplace, scored, as it is or with fixes."""

    format: Literal["deskmend-assessment/1"]
    case: str
    currency: str
    fit: FitRecord
    strain: AssessedStrain
    exposures: list[ExposureRecord]
    cost: Money | None
    bill: list[Bought]
    bill_missing: list[str]
    quantities: list[Reading]
    suits: dict[str, SuitRecord]
    scores: ScoresDocument
    rules_broken: list[BrokenRule]
    warnings: list[str]


# --- plan --------------------------------------------------------------------------------------------


class PlannedStrain(TypedDict):
    """Strain before and after a plan, the least possible, and how far the two can be told apart."""

    before: Strain
    after_free: Strain
    after: Strain
    plain_before: Strain
    plain_after: Strain
    best: Strain | None
    noise: Strain
    by_region: dict[str, dict[str, Strain]]


class StepMaterial(TypedDict):
    """What a step takes."""

    item: str
    quantity: int
    owned: int


class _CutInches(TypedDict):
    inches: NotRequired[dict[str, str | None]]


class CutRecord(_CutInches):
    """One kind of piece to cut [mm]."""

    part: str
    item: str | None
    count: int
    length: float | None
    width: float | None
    width_to: float | None
    thickness: float | None
    thickness_to: float | None
    measure_first: bool


_StepWith = TypedDict("_StepWith", {"with": str})


class StepRecord(_StepWith):
    """One step of a plan, in order; its strain is what is left once it is done."""

    order: int
    fix: str
    title: str
    place: str | None
    task: str | None
    size: float | int | str | None
    unit: str | None
    pieces: list[float | None]
    kind: str
    cost: Money | None
    minutes: int
    when: str
    strain_after: Strain
    bundle: str | None
    leaving_out: Strain
    why: str
    why_numbers: str
    materials: list[StepMaterial]
    cuts: list[CutRecord]
    how: list[str]
    right: str | None
    lacking: str | None
    cautions: list[str]
    side_effects: list[str]
    evidence: list[Evidence]


_StageStepWith = TypedDict("_StageStepWith", {"with": str})


class StageStep(_StageStepWith):
    """A step as it is in one stage."""

    size: float | int | str | None
    right: str | None
    lacking: str | None


_StageWith = TypedDict("_StageWith", {"with": list[str]})


class StageRecord(_StageWith):
    """A whole arrangement on the way, with what is there by then."""

    day: int | None
    when: str
    buy: list[Bought]
    cost: Money | None
    kept: list[Bought]
    strain: Strain
    minutes: int
    steps: list[StageStep]


class Sequence(TypedDict):
    """What is bought when."""

    saving_per_month: Money | None
    horizon_months: int
    spent: Money | None
    strain_sum: float
    strain_sum_least: float
    strain_sum_bound: float
    lost_cheapest_first: float
    lost_biggest_first: float
    candidates: list[Bought]
    candidates_left_aside: int
    proven_over_candidates: bool
    proven_over_all: bool


_WatchWith = TypedDict("_WatchWith", {"with": str})


class WatchRecord(_WatchWith):
    """Advice for what may happen."""

    fix: str
    happens: str
    then: str
    item: str | None
    quantity: int | None
    reserve: Money | None


_RecheckWith = TypedDict("_RecheckWith", {"with": str})


class Recheck(_RecheckWith):
    """What to look at after two weeks."""

    look: str


_ChoiceWith = TypedDict("_ChoiceWith", {"with": str})


class SecondChoice(_ChoiceWith):
    """What to turn to where a fix is given up."""

    why: str
    source: str
    instead: str
    fix: str | None


class Afterwards(TypedDict):
    """What comes after a plan."""

    recheck: list[Recheck]
    second_choices: list[SecondChoice]
    shared_seats: list[str]
    advice: list[str]


class TableSizesRecord(TypedDict):
    """What a proof was taken over."""

    decisions: int
    options: int
    nodes: int
    tables: int
    cells: int
    largest: int


class Proof(TypedDict):
    """What is proven of a plan."""

    status: Literal["optimal", "not_proven"]
    strain_bound: Strain | None
    engine: str
    engines_agree: bool | None
    tables: TableSizesRecord | None


_LeftOutFor = TypedDict("_LeftOutFor", {"for": str | None})


class LeftOutRecord(_LeftOutFor):
    """A fix that is not offered, and why."""

    fix: str
    cause: str
    reason: str


class StopRecord(TypedDict):
    """Where money begins to buy less: strain left there, and taken off for one unit of money."""

    cost: Money | None
    strain: Strain
    up_to_there: Strain
    mean_of_all: Strain


class MeasureAgain(TypedDict):
    """The measure on which the plan hangs most: off by its standard deviation, it moves what is taken off."""

    measure: str
    owner: str | None
    sd: float | None
    unit: str
    moves: Strain


class PlanDocument(Afterwards):
    """The plan: what to do, in order, with its proof."""

    format: Literal["deskmend-plan/1"]
    case: str
    currency: str
    budget: Money | None
    limit: Money | None
    cost: Money | None
    cost_now: Money | None
    minutes: int
    fit: FitRecord
    strain: PlannedStrain
    scores: ScoresDocument
    in_place: list[str]
    does_without: list[str]
    steps: list[StepRecord]
    stages: list[StageRecord]
    sequence: Sequence | None
    shopping: list[Bought]
    watch_for: list[WatchRecord]
    measure_again: MeasureAgain | None
    where_to_stop: StopRecord | None
    proof: Proof
    left_out: list[LeftOutRecord]
    warnings: list[str]
    worth: NotRequired[WorthRecord]
    sure: NotRequired[SureRecord]


class BoughtWorth(TypedDict):
    """Up to which price a thing that is bought stays worth buying; None: at any."""

    item: str
    packs: int
    price: Money | None
    up_to: Money | None
    strain_without: Strain | None


class LeftOutWorth(TypedDict):
    """At which price a thing left out would come in."""

    item: str
    price: Money | None
    as_gift: bool
    enters_at: Money | None


_InsteadWith = TypedDict("_InsteadWith", {"with": list[str]})


class SubstituteRecord(_InsteadWith):
    """The best plan without one thing."""

    without: str
    strain: Strain
    cost: Money | None
    instead: list[str]


class StillOpen(TypedDict):
    """Strain that a plan leaves, and from which money on it is less."""

    task: str
    exposure: str
    region: str
    strain: Strain
    less_from: Money | None
    then: Strain | None
    enters: list[str]


class NextRung(TypedDict):
    """The next dearer plan."""

    cost: Money | None
    strain: Strain


class WorthRecord(TypedDict):
    """What things are worth here."""

    money: Money | None
    within_percent: int
    bought: list[BoughtWorth]
    left_out: list[LeftOutWorth]
    substitutes: list[SubstituteRecord]
    still_open: list[StillOpen]
    next: NextRung | None


_SizeWith = TypedDict("_SizeWith", {"with": str})


class SureSize(_SizeWith):
    """In how many samples a fix has one size."""

    samples: int


_SureFor = TypedDict("_SureFor", {"for": str | None})


class SureFixRecord(_SureFor):
    """In how many samples a fix stays."""

    fix: str
    planned: bool
    stays: int
    sizes: list[SureSize]


class SureEnd(TypedDict):
    """What is best where one measure is at one of its ends."""

    value: float | None
    strain: Strain | None
    kept: str
    loses: Strain | None
    enters: list[str]
    leaves: list[str]


_MeasureFor = TypedDict("_MeasureFor", {"for": str | None})


class SureMeasure(_MeasureFor):
    """What one measure does when it alone is off."""

    measure: str
    value: float | None
    unit: str
    sd: float | None
    estimated: bool
    ends: list[SureEnd]


class SureRecord(TypedDict):
    """How sure the fixes of a plan are."""

    samples: int
    seed: int
    without_plan: int
    same_fixes: int
    fixes: list[SureFixRecord]
    measures: list[SureMeasure]
    measure_again: str | None
    flips_between: list[float] | None


# --- compare -----------------------------------------------------------------------------------------


_Resized = TypedDict("_Resized", {"from": str, "to": str})


class ChangeRecord(TypedDict):
    """What changes from one plan to the next dearer one."""

    enters: list[str]
    leaves: list[str]
    resized: list[_Resized]


_RungWith = TypedDict("_RungWith", {"with": list[str]})


class RungRecord(_RungWith):
    """One plan of a comparison."""

    cost: Money | None
    strain: Strain
    minutes: int
    fixes: list[str]
    shopping: list[Bought]
    by_region: ByRegion
    scores: ScoresDocument
    proven: bool
    change: NotRequired[ChangeRecord]


_AtWith = TypedDict("_AtWith", {"with": list[str] | None})


class AtRecord(_AtWith):
    """The plan within one budget asked about; None where there is none."""

    budget: Money | None
    cost: Money | None
    strain: Strain | None
    minutes: int | None


class ComparisonDocument(TypedDict):
    """The best plan at each budget, cost rising and strain falling."""

    format: Literal["deskmend-comparison/1"]
    case: str
    currency: str
    strain_before: Strain
    by_region_before: ByRegion
    scores_before: ScoresDocument
    rungs: list[RungRecord]
    at: list[AtRecord]
    knee: Money | None
    proven: bool
    warnings: list[str]
