"""The record of a visit: a case as its file says it, what it was planned with, and the plan given."""

from __future__ import annotations

from datetime import date

from deskmend.casebook.store import PersonBook, PlannedStep, Rating, Visit
from deskmend.intake.case import Case
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog
from deskmend.intake.hashes import catalog_digest, file_digest, running_version
from deskmend.intake.prices import PriceTable
from deskmend.planning.plan import Plan
from deskmend.risk.severity import REGIONS

__all__ = ["case_of", "discomfort_told", "outdated_ratings", "visit_of"]


def visit_of(
    day: date, case_file: str, case_text: str, catalog: Catalog, prices: PriceTable, plan: Plan, document: str
) -> Visit:
    """The record of a visit; `document` is that of the plan, as text."""
    return Visit(
        day=day,
        case_file=case_file,
        case_text=case_text,
        catalog_hash=catalog_digest(catalog),
        prices_hash=file_digest(prices.path),
        version=running_version(),
        currency=prices.currency,
        plan=document,
        steps=tuple(PlannedStep(step.option.with_name, step.option.fix.id) for step in plan.steps),
    )


def discomfort_told(case: Case, day: date, person: PersonBook | None = None) -> tuple[Rating, ...]:
    """Ratings of discomfort that a case tells, as what was felt on a day.

    What a person was asked that day comes before the case. A rating that stands in the case as it did at the
    visit before was not asked anew, and is no rating of that day.
    """
    told = _rated(case)
    if person is not None:
        asked = {one.region for one in person.felt if one.day == day}
        before = _rated(case_of(person.visits[-1])) if person.visits else {}
        told = {
            region: rating
            for region, rating in told.items()
            if region not in asked and before.get(region) != rating
        }
    return tuple(Rating(day, region, rating) for region, rating in told.items())


def outdated_ratings(case: Case, person: PersonBook) -> tuple[Rating, ...]:
    """What was felt last, where the case still tells another rating."""
    last = {one.region: one for one in person.felt}
    return tuple(
        last[region]
        for region, rating in _rated(case).items()
        if region in last and last[region].rating != rating
    )


def case_of(visit: Visit) -> Case:
    """The case of a visit, from the text that is kept of it."""
    return case_of_bytes(visit.case_text.encode("utf-8"), visit.case_file)


def _rated(case: Case) -> dict[str, int]:
    told = case.person.discomfort
    ratings = {region: getattr(told, region) for region in REGIONS}
    return {region: rating for region, rating in ratings.items() if rating is not None}
