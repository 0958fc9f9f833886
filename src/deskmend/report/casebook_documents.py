"""What the JSON documents of a casebook hold, key by key; see `case_documents`. Days stand as 2026-03-01."""

from __future__ import annotations

from typing import Any, Literal, NotRequired

from typing_extensions import TypedDict

from deskmend.report.case_documents import ByRegion, Money, PlanDocument, Reading, ScoresDocument, Strain

_DoneWith = TypedDict("_DoneWith", {"with": str})


class DoneRecord(_DoneWith):
    """One thing done or given up; paid is None where nobody said.

    One bill for several stands at the first of them, whose name the others have in paid_with.
    """

    day: str
    fix: str
    state: Literal["kept", "given_up"]
    paid: Money | None
    paid_with: str
    currency: str
    why: str


class RatingRecord(TypedDict):
    """How a region felt, 0 nothing to 10 the worst."""

    day: str
    region: str
    rating: int


class CasebookNoteRecord(TypedDict):
    """What was noted."""

    day: str
    text: str


class CasebookEntryDocument(TypedDict):
    """What was written into a casebook; with a visit the plan that was given."""

    format: Literal["deskmend-casebook-entry/1"]
    casebook: str
    key: str
    day: str
    entry: Literal["visit", "done", "felt"]
    done: list[DoneRecord]
    felt: list[RatingRecord]
    plan: NotRequired[PlanDocument]


_VisitWith = TypedDict("_VisitWith", {"with": list[str]})


class VisitRecord(_VisitWith):
    """One visit: the text of the case, what it was planned with, and the fixes of the plan given."""

    day: str
    case_file: str
    case_text: str
    catalog_sha256: str
    prices_sha256: str
    version: str
    currency: str
    plan: dict[str, Any]
    """The document of the plan, as the version that made it wrote it."""


class ExportRecord(TypedDict):
    """A file written from the casebook."""

    day: str
    file: str
    what: str


class CasebookPersonDocument(TypedDict):
    """All that a casebook holds of one person."""

    format: Literal["deskmend-casebook-person/1"]
    casebook: str
    key: str
    visits: list[VisitRecord]
    done: list[DoneRecord]
    felt: list[RatingRecord]
    notes: list[CasebookNoteRecord]
    exports: list[ExportRecord]


class ListedPerson(TypedDict):
    """One person, in counts."""

    key: str
    visits: int
    first_day: str
    last_day: str
    planned: int
    in_place: int
    given_up: int


class CasebookListDocument(TypedDict):
    """Who stands in a casebook."""

    format: Literal["deskmend-casebook-list/1"]
    casebook: str
    persons: list[ListedPerson]


class MomentStrain(TypedDict):
    """Strain at one moment, with the discomfort weights of its case and without."""

    total: Strain
    by_region: ByRegion
    plain_total: Strain
    plain_by_region: ByRegion


_MomentWith = TypedDict("_MomentWith", {"with": list[str]})


class MomentRecord(_MomentWith):
    """A workplace before, as planned or as reached."""

    day: str | None
    strain: MomentStrain
    scores: ScoresDocument
    quantities: list[Reading]


_StepNowWith = TypedDict("_StepNowWith", {"with": str})


class StepNowRecord(_StepNowWith):
    """What became of a step; `now` is what stands in its place where that is another size or fix."""

    planned: bool
    stands: Literal["in_place", "other_size", "other_fix", "given_up", "not_done"]
    now: str | None
    day: str | None
    why: str


class FeltChangeRecord(TypedDict):
    """First and last rating of a region, and what the change can be said to be."""

    region: str
    first: RatingRecord
    last: RatingRecord
    points_less: int
    clarity: Literal["none", "may_be", "clear"]
    said: str


class RatingErrorRecord(TypedDict):
    """What was published of how far a rating moves by itself [points]."""

    regions: list[str]
    low: float
    high: float
    source: str
    title: str


MissingRecord = TypedDict("MissingRecord", {"with": str, "keys": list[str]})
"""What stands as done and does not show in a case measured with it, and the keys that would tell it."""


class RecheckDocument(TypedDict):
    """Before, planned and reached, and a plan from there; planned is None where it cannot be counted."""

    format: Literal["deskmend-recheck/1"]
    case: str
    key: str
    currency: str
    nothing_done: bool
    measured_with_all_in_place: bool
    before: MomentRecord
    planned: MomentRecord | None
    reached: MomentRecord
    steps: list[StepNowRecord]
    in_place: list[str]
    added: list[str]
    doubled: list[str]
    missing: list[MissingRecord]
    outdated: list[RatingRecord]
    no_longer: list[str]
    bought: dict[str, int]
    paid: Money | None
    felt: list[FeltChangeRecord]
    rating_errors: list[RatingErrorRecord]
    again: PlanDocument
    warnings: list[str]


class LearnedFix(TypedDict):
    """What became of one fix, in persons; share, prior and weight from ten cases on."""

    fix: str
    planned: int
    done: int
    still_used: int
    share: float | None
    prior: float | None
    prior_from: Literal["catalog", "casebook"] | None
    prior_weight: float | None


class LearningDocument(TypedDict):
    """What a casebook teaches; `overlay` is the file written, for plans with --learned."""

    format: Literal["deskmend-learning/1"]
    casebook: str
    persons: int
    least_cases: int
    fixes: list[LearnedFix]
    overlay: str | None


class SharedRowRecord(TypedDict):
    """Persons by group; None where the count is withheld."""

    name: str
    groups: dict[str, int | None]


class SharedCountsDocument(TypedDict):
    """Counts without a group of fewer than five persons; persons is None where there are too few in all."""

    format: Literal["deskmend-casebook-counts/1"]
    persons: int | None
    smallest_group: int
    fixes: list[SharedRowRecord]
    felt: list[SharedRowRecord]


class ErasedDocument(TypedDict):
    """A person taken out, and what stands elsewhere."""

    format: Literal["deskmend-casebook-erased/1"]
    casebook: str
    key: str
    exports: list[str]
    case_files: list[str]
    named_by: list[str]
