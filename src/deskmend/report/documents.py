"""Documents for programs: one writer of JSON; strain, money and quantities as every document gives them."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from deskmend.measures import MILLION, Micro, Minor, format_amount
from deskmend.report.case_documents import Bought

if TYPE_CHECKING:
    from deskmend.planning.bill import BillLine
    from deskmend.planning.model.offers import OptionSpec

__all__ = [
    "Document",
    "bought_json",
    "json_text",
    "money_json",
    "names_json",
    "quantity_json",
    "regions_json",
    "strain_json",
]

Document = Any
"""A part of a document whose keys hang on what is registered, as scores; `case_documents` has the rest."""


def json_text(document: Mapping[str, Any]) -> str:
    """Write a document in ASCII alone, so that no character can steer a terminal; it ends in a line end.

    Raises ValueError where a number is not finite.
    """
    text = json.dumps(_whole(document), indent=2, allow_nan=False, ensure_ascii=True)
    return text.replace("\x7f", "\\u007f") + "\n"


def _whole(value: Any) -> Any:
    """Copy with lone surrogates replaced: a file name may hold them, and strict readers refuse them."""
    if isinstance(value, str):
        alone = any("\ud800" <= character <= "\udfff" for character in value)
        return value.encode("utf-8", "replace").decode("utf-8") if alone else value
    if isinstance(value, Mapping):
        return {_whole(key): _whole(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_whole(one) for one in value]
    return value


def strain_json(strain: Micro) -> float:
    """Strain-hours a day with at most six decimals.

    The double nearest to the exact value, which is written back with the same digits up to a thousand
    million hours.
    """
    return strain / MILLION


def regions_json(by_region: Mapping[str, Micro]) -> dict[str, float]:
    """Strain-hours a day by region."""
    return {region: strain_json(strain) for region, strain in by_region.items()}


def quantity_json(value: float | None) -> float | None:
    """Any other quantity in its unit, with three decimals and no minus before zero; None: not a number."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), 3) + 0.0


def money_json(minor: Minor | None, currency: str) -> str | None:
    """Money as decimal text."""
    return None if minor is None else format_amount(minor, currency)


def bought_json(lines: Iterable[BillLine], currency: str) -> list[Bought]:
    """What is bought, with what all packs of a thing cost."""
    return [{"item": one.item, "packs": one.packs, "cost": money_json(one.cost, currency)} for one in lines]


def names_json(options: Iterable[OptionSpec]) -> list[str]:
    """Fixes as ``assess --with`` takes them."""
    return [option.with_name for option in options]
