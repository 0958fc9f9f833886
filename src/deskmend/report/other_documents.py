"""Keys of the other JSON documents: catalog, prices, fund, measures and faults; see `case_documents`."""

from __future__ import annotations

from typing import Literal, NotRequired

from typing_extensions import TypedDict

from deskmend.report.case_documents import ByRegion, Evidence, FitRecord, Money, ScoresDocument, Strain

# --- catalog, prices ---------------------------------------------------------------------------------


class EffectRecord(TypedDict):
    """One change that a fix makes: one of the four operations, with a factor on the size."""

    change: str
    set: NotRequired[float | str]
    add: NotRequired[float | str]
    at_most: NotRequired[float | str]
    at_least: NotRequired[float | str]
    times: float


class SizeRecord(TypedDict):
    """Sizes that a fix can have."""

    unit: str
    low: float | None
    high: float | None
    step: float | None
    pieces: str | None
    words: list[str]
    of: str | None


class InsteadRecord(TypedDict):
    """What is taken instead where it is owned."""

    item: str
    quantity: int | None


class MaterialRecord(TypedDict):
    """What a fix takes; with a price table what a pack of it costs."""

    item: str
    title: str
    quantity: int | None
    unit: str
    from_size: NotRequired[int]
    instead: NotRequired[InsteadRecord]
    pack: NotRequired[int | None]
    price: NotRequired[Money | None]


class CutFormula(TypedDict):
    """One kind of piece to cut, its sides as sums [mm]."""

    part: str
    item: str | None
    count: int
    length: str | None
    width: str | None
    width_to: str | None
    thickness: str | None
    thickness_to: str | None
    from_size: int | None
    measure_first: bool


class NeedRecord(TypedDict):
    """A rule on the final state."""

    when: list[str]
    all: list[str]
    any: list[str]
    why: str


class CaveatRecord(TypedDict):
    """For whom a fix is not."""

    sign: str | None
    when: str | None
    why: str


class ConditionRecord(TypedDict):
    """A sentence that is not said everywhere, by the key it stands under; None for advice as a whole."""

    of: str
    say: str | None
    when: list[str]
    unless: list[str]


class WatchForRecord(TypedDict):
    """Advice for what may happen."""

    happens: str
    then: str
    item: str | None
    quantity: int
    when: list[str]
    unless: list[str]


class KeptUpRecord(TypedDict):
    """On what part of the days a habit is counted as kept."""

    share: float
    sources: list[str]
    why: str
    status: str


class OftenDroppedRecord(TypedDict):
    """That many give a fix up, and the second choice."""

    why: str
    source: str
    instead: str
    fix: str | None


class FixRecord(TypedDict):
    """One fix of the catalog."""

    id: str
    title: str
    kind: str
    decision: str
    stage: str
    scope: str
    carried: bool
    size: SizeRecord | None
    effects: list[EffectRecord]
    materials: list[MaterialRecord]
    cuts: list[CutFormula]
    tools: list[str]
    minutes: int
    skill: int
    needs: list[NeedRecord]
    conflicts: list[str]
    not_for: list[CaveatRecord]
    alters: bool
    leave: str
    reversible: bool
    lifetime_months: int | None
    how: list[str]
    checks: list[str]
    right: str | None
    upkeep: str | None
    side_effects: list[str]
    cautions: list[str]
    conditions: list[ConditionRecord]
    watch: list[WatchForRecord]
    recheck: str | None
    often_dropped: OftenDroppedRecord | None
    kept_up: KeptUpRecord | None
    on_request: bool
    evidence: list[Evidence]


class AdviceRecord(TypedDict):
    """What only informs."""

    id: str
    title: str
    how: list[str]
    cautions: list[str]
    conditions: list[ConditionRecord]
    evidence: list[Evidence]


class CatalogDocument(TypedDict):
    """Fixes with their evidence."""

    format: Literal["deskmend-catalog/1"]
    currency: str | None
    fixes: list[FixRecord]
    advice: list[AdviceRecord]


class PriceQuestionRecord(TypedDict):
    """One price to ask for, those that decide most first."""

    item: str
    title: str
    unit: str
    pack: int
    ask: str | None
    strain: Strain
    fixes: list[str]


class PriceQuestionsDocument(TypedDict):
    """Prices to ask for."""

    format: Literal["deskmend-price-questions/1"]
    case: str
    currency: str
    items: list[PriceQuestionRecord]


class PriceAgeRecord(TypedDict):
    """One item and how old its price is [days]; old over a year."""

    item: str
    as_of: str
    days: int
    old: bool


class PriceAgesDocument(TypedDict):
    """How old the prices of a table are, the oldest first; day is None where no price has one."""

    format: Literal["deskmend-price-ages/1"]
    file: str
    day: str | None
    items: list[PriceAgeRecord]
    undated: list[str]


class PackPrice(TypedDict):
    """What a pack costs, and what it holds."""

    pack: int
    price: Money
    as_of: str | None


class PricePairRecord(TypedDict):
    """One item in two tables; `second_is` by what a unit costs."""

    item: str
    first: PackPrice
    second: PackPrice
    second_is: Literal["dearer", "cheaper", "same"]


class PricePairsDocument(TypedDict):
    """Two price tables side by side."""

    format: Literal["deskmend-price-comparison/1"]
    first: str
    second: str
    currency: str
    items: list[PricePairRecord]
    only_first: list[str]
    only_second: list[str]


# --- allocate ----------------------------------------------------------------------------------------


class LimitRecord(TypedDict):
    """A limit that everybody has to come down to."""

    score: str
    value: float


class Fairness(TypedDict):
    """Relief as it is, and as much as could be, in weighted strain-hours a day."""

    relief: float
    most_relief: float | None
    most_relief_bound: float | None


class LevelRecord(TypedDict):
    """How many are no worse off than one level."""

    strain: Strain
    strain_at_least: Strain
    people: int
    people_at_least: int
    proven: bool


class MoreMoneyRecord(TypedDict):
    """What more money would bring."""

    extra: Money | None
    at_least: float | None
    at_most: float | None


class StockCostRecord(TypedDict):
    """What the stock of a thing costs in relief."""

    item: str
    at_least: float | None
    at_most: float | None


class DecidedRecord(TypedDict):
    """What people decided: for how many, and weighted relief [h/day] that others, and all, are given less."""

    people: int
    less_for_others: float | None
    less_in_all: float | None


class TogetherRecord(TypedDict):
    """Packs from which several take, which the proof does not count: money saved, and what it could add."""

    saved: Money | None
    at_most: float | None


class AllocationDocument(TypedDict):
    """A fund shared; relief and bound are people where the policy counts people."""

    format: Literal["deskmend-allocation/1"]
    currency: str
    fund: Money | None
    already: Money | None
    spent: Money | None
    left: Money | None
    relief: float | None
    bound: float | None
    gap: float | None
    status: str
    policy: str
    limit: LimitRecord | None
    cap: Money | None
    cap_in_all: Money | None
    floor: Money | None
    group_share: dict[str, float]
    group_cap: dict[str, Money | None]
    use_discomfort: bool
    every_gain: bool
    ask_first: dict[str, list[str]]
    still_amiss: dict[str, list[str]]
    decided: DecidedRecord | None
    people: int
    served: int
    waiting: int
    """People who are given nothing though something on offer would help, or of whom that is not known."""
    not_given: dict[str, int]
    """How many are given nothing, by reason."""
    broken_off: bool
    """Whether the search, or what was asked of it afterwards, ended early."""
    rejected: int
    fairness: Fairness
    levels: list[LevelRecord]
    more_money: MoreMoneyRecord | None
    together: TogetherRecord
    stock_costs: list[StockCostRecord]
    warnings: list[str]


# --- measures from a picture -------------------------------------------------------------------------

MeasureRecord = TypedDict(
    "MeasureRecord",
    {
        "name": str,
        "value": float,
        "sd": float,
        "low": float,
        "high": float,
        "unit": Literal["mm", "deg"],
        "from": Literal["taped", "pictured"],
    },
)
"""One measure; low and high hold it in 95 of 100 cases."""


class ToTapeRecord(TypedDict):
    """A length better taped: how sure the picture is of it, or what is not marked for it."""

    name: str
    sd: float | None
    missing: list[str]


class DoubtRecord(TypedDict):
    """What seems wrong with the marks."""

    kind: str
    points: list[str]
    text: str


class TakenRecord(TypedDict):
    """A measure that went into the case, and where."""

    where: str
    name: str


class KeptRecord(TypedDict):
    """A value of the case that stays beside a measure; whether they differ beyond the interval."""

    where: str
    value: float
    name: str
    beyond_both: bool


class AngleBesideRecord(TypedDict):
    """An angle as seen; expected is what seat and desk ask for, None where nothing is known of that."""

    name: str
    value: float | None
    sd: float | None
    low: float | None
    high: float | None
    unit: Literal["deg"]
    expected: float | None
    expected_low: float | None
    expected_high: float | None
    difference: float | None
    beyond_both: bool


UnseenRecord = TypedDict(
    "UnseenRecord", {"what": str, "value": bool | int | float, "from": Literal["case", "assumed"]}
)
"""What the picture does not show and a score needs, as it was taken."""


class ObservedRulaRecord(TypedDict):
    """RULA of the posture seen; low and high hold it in 95 of 100 cases, if what is not seen is as taken."""

    score: int
    low: int
    high: int
    action_level: int
    items: dict[str, int]
    not_seen: list[UnseenRecord]


class ObservedPostureRecord(TypedDict):
    """Posture seen in the picture, beside what is expected for a task; None without a case."""

    task: str | None
    hands: str | None
    looks_at: str | None
    mode: str | None
    angles: list[AngleBesideRecord]
    rula: ObservedRulaRecord | None
    rula_lacks: list[str]
    """Points not marked that RULA needs."""


class TapeForPlanRecord(TypedDict):
    """A length not taped that the plan hangs on: off by its SD, it moves what is taken off."""

    measure: str
    owner: str | None
    sd: float
    unit: str
    moves: Strain


class MeasuresDocument(TypedDict):
    """Measures from pictures of one scene; with a case, what went into it, and what its plan hangs on."""

    format: Literal["deskmend-measures/1"]
    pictures: list[str]
    focal_length_told: bool
    measures: list[MeasureRecord]
    posture: ObservedPostureRecord
    tape: list[ToTapeRecord]
    faults: list[DoubtRecord]
    warnings: list[str]
    taken: NotRequired[list[TakenRecord]]
    kept: NotRequired[list[KeptRecord]]
    tape_for_plan: NotRequired[list[TapeForPlanRecord]]
    no_plan: NotRequired[str | None]
    """Why there is no plan to look at; None where there is one."""


# --- faults, files -----------------------------------------------------------------------------------


class FaultRecord(TypedDict):
    """What somebody wrote wrongly."""

    file: str
    line: int | None
    where: str
    read: str | None
    allowed: str
    hint: str
    note: str


class CheckedFile(TypedDict):
    """A file that was looked at."""

    file: str
    kind: str


class FaultsDocument(TypedDict):
    """Every fault; with the files looked at where ``check`` was asked."""

    format: Literal["deskmend-faults/1"]
    faults: list[FaultRecord]
    files: NotRequired[list[CheckedFile]]


class FailureDocument(TypedDict):
    """Why there is no result."""

    format: Literal["deskmend-failure/1"]
    exit: int
    hinders: str
    would_help: str
    warnings: NotRequired[list[str]]


class InputRecord(TypedDict):
    """A file that a decision rests on; a folder of files as the hash over all of them."""

    file: str
    sha256: str


class LedgerRecord(TypedDict):
    """The ledger from which a round was shared, and the hash of what the round adds below its own line."""

    file: str
    sha256: str
    entries: str


class OverrideRecord(TypedDict):
    """What people decided for somebody and why; who did and on which day where the table tells."""

    id: str
    fixed: str
    never: str
    least: Money | None
    most: Money | None
    reason: str
    by: str
    on: str


class DecisionDocument(TypedDict):
    """How a fund was shared, and the words of a command that does it again; ``seal`` hashes the rest."""

    format: Literal["deskmend-decision/1"]
    version: str
    applicants: InputRecord | None
    prices: InputRecord | None
    catalog: InputRecord
    already: InputRecord | None
    columns: InputRecord | None
    ledger: LedgerRecord | None
    round: int | None
    today: str
    options: dict[str, str | bool | float | list[str] | None]
    command: list[str]
    policy: str
    currency: str
    fund: Money | None
    spent: Money | None
    status: str
    relief: float | None
    bound: float | None
    gap: float | None
    overrides: list[OverrideRecord]
    files: dict[str, str]
    seal: NotRequired[str]


class FolderCheckDocument(TypedDict):
    """A folder that is as it was written and adds up."""

    format: Literal["deskmend-folder-check/1"]
    folder: str
    confirmed: bool
    files: int


class StoreRecord(TypedDict):
    """Units of a thing in store."""

    item: str
    size: str
    units: int


class LedgerRoundRecord(TypedDict):
    """One round that counts."""

    round: int
    date: str
    policy: str
    status: str
    fund: Money | None
    spent: Money | None
    decision: str


class LedgerDocument(TypedDict):
    """What a ledger comes to."""

    format: Literal["deskmend-ledger-state/1"]
    ledger: str
    currency: str
    rounds: list[LedgerRoundRecord]
    spent: Money | None
    people: int
    gone: list[str]
    store: list[StoreRecord]


class WrittenDocument(TypedDict):
    """A file that was written."""

    format: Literal["deskmend-written/1"]
    file: str


class OpenedDocument(TypedDict):
    """The local page, while it is served."""

    format: Literal["deskmend-opened/1"]
    address: str
    file: str
    """What opens it in a browser."""


# --- two workplaces ------------------------------------------------------------------------------------


class BesideStrain(TypedDict):
    """Strain with the person's discomfort weights, and without."""

    total: Strain
    by_region: ByRegion
    plain_total: Strain
    plain_by_region: ByRegion


_BesideWith = TypedDict("_BesideWith", {"with": list[str]})


class BesideWorkplace(_BesideWith):
    """One of two workplaces, with its fixes."""

    case: str
    currency: str
    cost: Money | None
    strain: BesideStrain
    scores: ScoresDocument
    fit: FitRecord
    warnings: list[str]


class BesideMeasure(TypedDict):
    """One measure or kind, in the first and the second; None where one has no such thing."""

    level: str
    owner: list[str | None]
    name: str
    unit: str | None
    values: list[float | str | None]


class BesideQuantity(TypedDict):
    """One quantity of one task in both, with its ranges and how far outside them it lies."""

    task: list[str | None]
    name: str
    of: str | None
    mode: str | None
    unit: str
    values: list[float | None]
    severities: list[float | None]
    low: list[float | None]
    high: list[float | None]


class BesideDrawing(TypedDict):
    """One task from the side in both, at one scale; None where one has no such task."""

    task: list[str | None]
    mode: str
    svg: list[str | None]


class BesideDocument(TypedDict):
    """Two workplaces side by side; each list has the first, then the second."""

    format: Literal["deskmend-beside/1"]
    cases: list[BesideWorkplace]
    tasks: list[list[str | None]]
    measures: list[BesideMeasure]
    quantities: list[BesideQuantity]
    drawings: list[BesideDrawing]
