"""Casebooks of invented persons for tests, made without planning."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Literal

import yaml
from tests.planning.cases import plain

from deskmend.casebook.store import Casebook, PlannedStep, Rating, StepDone, Visit, open_casebook

DAY = date(2026, 3, 1)
CASE_TEXT: str = yaml.safe_dump(plain(places__0__seat__height="480"), sort_keys=False)


def visit(*fixes: str, day: date = DAY, text: str = CASE_TEXT, file: str = "case.yaml") -> Visit:
    """A visit with a plan of some fixes."""
    steps = tuple(PlannedStep(name, name.partition("=")[0].rpartition(".")[2]) for name in fixes)
    return Visit(
        day=day,
        case_file=file,
        case_text=text,
        catalog_hash="c" * 64,
        prices_hash="p" * 64,
        version="0.1.0",
        currency="EUR",
        plan="{}",
        steps=steps,
    )


def done(
    name: str,
    state: Literal["kept", "given_up"] = "kept",
    decision: str = "",
    later: int = 7,
    paid: int | None = None,
    why: str = "",
) -> StepDone:
    """A step done some days after the visit."""
    fix = name.partition("=")[0].rpartition(".")[2]
    return StepDone(
        day=DAY + timedelta(days=later),
        name=name,
        fix=fix,
        decision=decision or fix,
        state=state,
        paid=paid,
        currency="EUR",
        why=why,
    )


def felt(*changes: tuple[str, int, int]) -> list[Rating]:
    """Two ratings a region, two weeks apart."""
    later = DAY + timedelta(days=14)
    return [
        rating
        for region, first, last in changes
        for rating in (Rating(DAY, region, first), Rating(later, region, last))
    ]


def book_of(path: Path, counts: dict[str, tuple[int, int, int]], persons: int) -> Casebook:
    """A casebook in which so many had each fix planned, did it, and still use it."""
    book = open_casebook(path, create=True)
    for number in range(persons):
        key = f"person{number}"
        planned = [fix for fix, (asked, _, _) in counts.items() if number < asked]
        book.add_visit(key, visit(*planned))
        book.add_done(
            key,
            [
                done(fix, "kept" if number < kept else "given_up")
                for fix, (_, did, kept) in counts.items()
                if number < did
            ],
        )
    return book
