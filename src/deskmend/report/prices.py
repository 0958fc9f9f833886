"""Price tables as they are kept: how old each price is, and two tables side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from deskmend.intake.prices import PriceAges, PricedItem, PricePair, PricePairs
from deskmend.language import shown_day, tr, trn
from deskmend.measures import format_amount
from deskmend.planning.inputs import STALE_DAYS
from deskmend.report.layout import Page
from deskmend.report.words import money_text

if TYPE_CHECKING:
    from deskmend.report.other_documents import PackPrice, PriceAgesDocument, PricePairsDocument

__all__ = ["ages_document", "ages_text", "pairs_document", "pairs_text"]


def ages_document(file: str, ages: PriceAges) -> PriceAgesDocument:
    """How old prices are, format ``deskmend-price-ages/1``."""
    return {
        "format": "deskmend-price-ages/1",
        "file": file,
        "day": None if ages.day is None else ages.day.isoformat(),
        "items": [
            {
                "item": one.item,
                "as_of": one.as_of.isoformat(),
                "days": one.days,
                "old": one.days > STALE_DAYS,
            }
            for one in ages.dated
        ],
        "undated": list(ages.undated),
    }


def ages_text(ages: PriceAges) -> str:
    """Prices over a year old first, then the others, then those without a day."""
    page = Page()
    old = [one for one in ages.dated if one.days > STALE_DAYS]
    ahead = [one for one in ages.dated if one.days < 0]
    rest = [one for one in ages.dated if 0 <= one.days <= STALE_DAYS]
    if ages.day is None:
        page.paragraph(tr("No price has a day."))
    else:
        page.paragraph(tr("Age on {day}:", day=shown_day(ages.day)))
    for title, found in (
        (tr("Over a year old, ask again"), old),
        (tr("From after that day, look at their dates"), ahead),
        (tr("Not over a year old"), rest),
    ):
        if found:
            page.heading(title)
            rows = [
                [one.item, shown_day(one.as_of), trn("{count} day", "{count} days", one.days)]
                for one in found
            ]
            page.table(rows, right=(2,))
    if ages.undated:
        page.heading(tr("Without a day"))
        page.paragraph(", ".join(ages.undated))
    return page.text()


def pairs_document(first: str, second: str, pairs: PricePairs) -> PricePairsDocument:
    """Two tables side by side, format ``deskmend-price-comparison/1``."""
    return {
        "format": "deskmend-price-comparison/1",
        "first": first,
        "second": second,
        "currency": pairs.currency,
        "items": [
            {
                "item": one.item,
                "first": _pack_json(one.first, pairs.currency),
                "second": _pack_json(one.second, pairs.currency),
                "second_is": "dearer" if one.dearer > 0 else "cheaper" if one.dearer < 0 else "same",
            }
            for one in pairs.both
        ],
        "only_first": list(pairs.only_first),
        "only_second": list(pairs.only_second),
    }


def _pack_json(one: PricedItem, currency: str) -> PackPrice:
    return {
        "pack": one.pack,
        "price": format_amount(one.price, currency),
        "as_of": None if one.as_of is None else one.as_of.isoformat(),
    }


def pairs_text(first: str, second: str, pairs: PricePairs) -> str:
    """What costs more and what less in the second table, by the unit; the same prices are counted alone."""
    page = Page()
    page.paragraph(tr("{first} and {second}, by what a unit costs", first=first, second=second))
    for title, sign in ((tr("Dearer in the second"), 1), (tr("Cheaper in the second"), -1)):
        found = [one for one in pairs.both if one.dearer == sign]
        if found:
            page.heading(title)
            page.table([_pair_cells(one, pairs.currency) for one in found], right=(1, 2))
    same = sum(one.dearer == 0 for one in pairs.both)
    page.blank()
    page.paragraph(trn("{count} price is the same.", "{count} prices are the same.", same))
    for told, names in (
        (tr("Only in the first: {items}", items=", ".join(pairs.only_first)), pairs.only_first),
        (tr("Only in the second: {items}", items=", ".join(pairs.only_second)), pairs.only_second),
    ):
        if names:
            page.paragraph(told)
    return page.text()


def _pair_cells(one: PricePair, currency: str) -> list[str]:
    return [one.item, _pack_text(one.first, currency), _pack_text(one.second, currency)]


def _pack_text(one: PricedItem, currency: str) -> str:
    price = money_text(one.price, currency)
    return price if one.pack == 1 else tr("{price} for {pack}", price=price, pack=one.pack)
