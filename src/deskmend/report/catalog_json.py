"""A catalog as one JSON document, format ``deskmend-catalog/1``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix, Need, Size
from deskmend.intake.price_table import PriceTable
from deskmend.messages import tr
from deskmend.money import format_amount
from deskmend.report.cut_words import formula_documents
from deskmend.report.numbers import quantity_json
from deskmend.report.plan_json import evidence_json

__all__ = ["catalog_document"]


def catalog_document(catalog: Catalog, fixes: Iterable[Fix], prices: PriceTable | None) -> dict[str, Any]:
    """Write fixes of a catalog as a document.

    Parameters
    ----------
    catalog : Catalog
        Where they come from.
    fixes : iterable of Fix
        The fixes, in catalog order.
    prices : PriceTable or None
        To tell what their materials cost a pack.

    Returns
    -------
    dict
        Sizes in their unit [mm] [deg] [min] with three decimals, money as decimal text.
    """
    return {
        "format": "deskmend-catalog/1",
        "currency": None if prices is None else prices.currency,
        "fixes": [_fix(fix, catalog, prices) for fix in fixes],
        "advice": [
            {
                "id": one.id,
                "title": tr(one.title),
                "how": [tr(line) for line in one.how],
                "cautions": [tr(line) for line in one.cautions],
                "evidence": [evidence_json(note, catalog) for note in one.evidence],
            }
            for one in catalog.advice
        ],
    }


def _fix(fix: Fix, catalog: Catalog, prices: PriceTable | None) -> dict[str, Any]:
    return {
        "id": fix.id,
        "title": tr(fix.title),
        "kind": fix.kind,
        "decision": fix.decision,
        "stage": fix.stage,
        "scope": fix.scope,
        "carried": fix.carried,
        "size": None if fix.size is None else _size(fix.size),
        "effects": [
            {"change": effect.change, effect.operation: effect.value, "times": effect.times}
            for effect in fix.effects
        ],
        "materials": [_material(m.item, m.quantity, catalog, prices) for m in fix.materials],
        "cuts": formula_documents(fix),
        "tools": list(fix.tools),
        "minutes": fix.minutes,
        "skill": fix.skill,
        "needs": [_need(need) for need in fix.needs],
        "conflicts": list(fix.conflicts),
        "not_for": [
            {
                "sign": caveat.sign,
                "when": None if caveat.when is None else str(caveat.when),
                "why": tr(caveat.why),
            }
            for caveat in fix.not_for
        ],
        "alters": fix.alters,
        "leave": fix.leave,
        "reversible": fix.reversible,
        "lifetime_months": fix.lifetime_months,
        "how": [tr(line) for line in fix.how],
        "right": _told(fix.right),
        "upkeep": _told(fix.upkeep),
        "side_effects": [tr(line) for line in fix.side_effects],
        "cautions": [tr(line) for line in fix.cautions],
        "watch": [
            {"happens": tr(w.happens), "then": tr(w.then), "item": w.item, "quantity": w.quantity}
            for w in fix.watch
        ],
        "recheck": _told(fix.recheck or fix.right),
        "often_dropped": None
        if fix.often_dropped is None
        else {
            "why": tr(fix.often_dropped.why),
            "source": fix.often_dropped.source,
            "instead": tr(fix.often_dropped.instead),
            "fix": fix.often_dropped.fix,
        },
        "on_request": fix.on_request,
        "evidence": [evidence_json(note, catalog) for note in fix.evidence],
    }


def _told(text: str | None) -> str | None:
    return None if text is None else tr(text)


def _size(size: Size) -> dict[str, Any]:
    return {
        "unit": size.unit,
        "low": quantity_json(size.low),
        "high": quantity_json(size.high),
        "step": quantity_json(size.step),
        "pieces": size.pieces,
        "words": list(size.words),
        "of": size.of,
    }


def _need(need: Need) -> dict[str, Any]:
    return {
        "when": [str(one) for one in need.when],
        "all": [str(one) for one in need.all],
        "any": [str(one) for one in need.any],
        "why": tr(need.why),
    }


def _material(item: str, quantity: int | None, catalog: Catalog, prices: PriceTable | None) -> dict[str, Any]:
    known = catalog.items[item]
    out: dict[str, Any] = {"item": item, "title": tr(known.title), "quantity": quantity, "unit": known.unit}
    if prices is not None:
        priced = prices.get(item)
        out["pack"] = None if priced is None else priced.pack
        out["price"] = None if priced is None else format_amount(priced.price, prices.currency)
    return out
