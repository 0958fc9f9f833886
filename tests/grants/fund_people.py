"""The invented people of the scenario, and workers for them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from deskmend.choice import evaluate
from deskmend.errors import DefectError
from deskmend.grants.people.check import GivenPlan, check_plans, claim_of
from deskmend.grants.people.columns import Column
from deskmend.grants.people.plans import PersonPlans, PlanBasis
from deskmend.grants.people.workers import InProcess, People, Workers
from deskmend.intake.applicants import ApplicantRow, ApplicantTable, load_applicants
from deskmend.intake.catalog import load_catalog
from deskmend.intake.prices import load_prices

FOLDER = Path(__file__).resolve().parents[2] / "scenarios" / "relief_fund"
TABLE = FOLDER / "applicants.csv"
CATALOG = load_catalog()
PRICES = load_prices(FOLDER / "prices.csv")
BASE = {name: item.price for name, item in PRICES.items.items()}
SMALL = ("ana-01", "cora-03", "dado-04", "gil-07", "hana-08", "pita-16")
"""People whose plans are quickly worked out."""


@cache
def table() -> ApplicantTable:
    return load_applicants(TABLE, CATALOG)


@cache
def rows() -> dict[str, ApplicantRow]:
    return {row.id: row for row in table().people}


@cache
def plans_of(name: str) -> PersonPlans:
    return PersonPlans(rows()[name], PlanBasis(CATALOG, PRICES))


def told(plans: PersonPlans, column: Column, steps: bool) -> GivenPlan:
    """A plan of a person checked without the optimiser, and held against the person's problem as well."""
    claim = claim_of(plans, column)
    given = check_plans([claim], plans.basis, steps)[0]
    choice = claim.column.choice
    taken = dict(choice if isinstance(choice, tuple) else ())
    scored = evaluate(
        plans.base, {d.name: taken.get(d.name, d.options[0].name) for d in plans.base.decisions}
    )
    figures = scored.value + plans.fixed_strain, scored.cost, scored.minutes
    if figures != (given.strain_after, given.bill.total, given.minutes) or scored.violations:
        raise DefectError(f"{claim.row.id}: {figures} by the tables, {given} worked out again")
    return given


def people(names: tuple[str, ...] = SMALL, workers: Workers | None = None) -> People:
    workers = InProcess(PlanBasis(CATALOG, PRICES)) if workers is None else workers
    return People([rows()[name] for name in names], workers, BASE)
