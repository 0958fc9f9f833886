"""The invented people of the scenario, and workers for them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from deskmend.grants.people.plans import PersonPlans, Workshop
from deskmend.grants.people.workers import InProcess, People, Workers
from deskmend.intake.applicants import Applicant, ApplicantTable, load_applicants
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
def rows() -> dict[str, Applicant]:
    return {row.id: row for row in table().people}


@cache
def plans_of(name: str) -> PersonPlans:
    return PersonPlans(rows()[name], Workshop(CATALOG, PRICES))


def people(names: tuple[str, ...] = SMALL, workers: Workers | None = None) -> People:
    workers = InProcess(Workshop(CATALOG, PRICES)) if workers is None else workers
    return People([rows()[name] for name in names], workers, BASE)
