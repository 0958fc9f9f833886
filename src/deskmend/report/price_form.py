"""A price table to fill in, and the same questions as a document."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date
from typing import Any

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import COLUMNS
from deskmend.messages import tr
from deskmend.planning.inputs import DEFAULT_CURRENCY
from deskmend.planning.price_questions import PriceQuestion
from deskmend.report.case_name import case_name
from deskmend.report.numbers import strain_json

__all__ = ["price_form", "price_form_document"]


def price_form(
    case: Case, catalog: Catalog, questions: Sequence[PriceQuestion], today: date | None = None
) -> str:
    """Write a price table with everything but the prices.

    Parameters
    ----------
    case : Case
        For whom.
    catalog : Catalog
        For titles and what to ask for.
    questions : sequence of PriceQuestion
        The items, in the order asked.
    today : date, optional
        Day that every row bears as ``as_of``; empty if left out.

    Returns
    -------
    str
        CSV; remarks begin with ``#``. A price left empty makes the fixes that need it unavailable.
    """
    out = io.StringIO()
    for line in (
        tr("Prices for: {case}", case=case_name(case)),
        tr(
            "Fill in price, and as_of as YYYY-MM-DD. The first rows decide most; stop where it is not worth "
            "it."
        ),
        tr("Change pack to what a pack holds where you ask. low and high: a range. condition: new or used."),
        tr("A row without a price makes the fixes that need it unavailable; it is never guessed."),
    ):
        out.write(f"# {line}\n")
    for number, one in enumerate(questions, start=1):
        item = catalog.items[one.item]
        told = tr(
            "{number}. {item}: {thing}; a pack holds {pack} {unit}.",
            number=number,
            item=one.item,
            thing=tr(item.title),
            pack=one.pack,
            unit=tr(item.unit),
        )
        out.write(f"# {told}{f' {tr(item.ask)}' if item.ask is not None else ''}\n")
    table = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    table.writeheader()
    for one in questions:
        table.writerow(
            {
                "item": one.item,
                "pack": one.pack,
                "currency": case.means.currency or DEFAULT_CURRENCY,
                "as_of": "" if today is None else today.isoformat(),
            }
        )
    return out.getvalue()


def price_form_document(case: Case, catalog: Catalog, questions: Sequence[PriceQuestion]) -> dict[str, Any]:
    """Give the same questions as a document, format ``deskmend-price-questions/1``."""
    return {
        "format": "deskmend-price-questions/1",
        "case": case_name(case),
        "currency": case.means.currency or DEFAULT_CURRENCY,
        "items": [
            {
                "item": one.item,
                "title": tr(catalog.items[one.item].title),
                "unit": catalog.items[one.item].unit,
                "pack": one.pack,
                "ask": tr(catalog.items[one.item].ask or "") or None,
                "strain": strain_json(one.relief),
                "fixes": list(one.fixes),
            }
            for one in questions
        ],
    }
