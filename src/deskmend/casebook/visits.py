"""The record of a visit: a case as its file says it, what it was planned with, and the plan given."""

from __future__ import annotations

from datetime import date

from deskmend.casebook.store import PlannedStep, Rating, Visit
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.hashes import catalog_digest, file_digest, running_version
from deskmend.intake.prices import PriceTable
from deskmend.planning.plan import Plan
from deskmend.risk.severity import REGIONS

__all__ = ["discomfort_told", "visit_of"]


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


def discomfort_told(case: Case, day: date) -> tuple[Rating, ...]:
    """Ratings of discomfort that a case tells, as what was felt on a day."""
    told = case.person.discomfort
    ratings = [(region, getattr(told, region)) for region in REGIONS]
    return tuple(Rating(day, region, rating) for region, rating in ratings if rating is not None)
