"""What each thing is worth, as the part ``worth`` of a plan's document."""

from __future__ import annotations

from typing import Any

from deskmend.money import format_amount
from deskmend.planning.worth import ItemWorth, Worth
from deskmend.report.numbers import strain_json

__all__ = ["worth_document"]


def worth_document(worth: Worth, currency: str) -> dict[str, Any]:
    """Write what a buyer asks next.

    Parameters
    ----------
    worth : Worth
        For the money and time of the plan.
    currency : str
        Of all amounts.

    Returns
    -------
    dict
        ``up_to`` and ``enters_at`` are prices of a pack; null: at any price, ``as_gift`` false: not even for
        nothing. Strain in h/day.
    """

    def money(minor: int | None) -> str | None:
        return None if minor is None else format_amount(minor, currency)

    def bought(one: ItemWorth) -> dict[str, Any]:
        return {
            "item": one.item,
            "packs": one.packs,
            "price": money(one.price),
            "up_to": money(one.up_to),
            "strain_without": None if one.strain_without is None else strain_json(one.strain_without),
        }

    def left_out(one: ItemWorth) -> dict[str, Any]:
        gift = one.up_to is None or one.up_to >= 0
        return {
            "item": one.item,
            "price": money(one.price),
            "as_gift": gift,
            "enters_at": money(one.up_to) if gift else None,
        }

    return {
        "money": money(worth.money),
        "within_percent": worth.within,
        "bought": [bought(one) for one in worth.bought],
        "left_out": [left_out(one) for one in worth.left_out],
        "substitutes": [
            {
                "without": one.item,
                "strain": strain_json(one.strain),
                "cost": money(one.cost),
                "with": [option.with_name for option in one.options],
                "instead": [option.with_name for option in one.instead],
            }
            for one in worth.substitutes
        ],
        "still_open": [
            {
                "task": one.term.task,
                "exposure": one.term.exposure,
                "region": one.term.region,
                "strain": strain_json(one.term.value),
                "less_from": None if one.rung is None else money(one.rung.cost),
                "then": None if one.rung is None else strain_json(one.then),
                "enters": [option.with_name for option in one.enters],
            }
            for one in worth.still_open
        ],
        "next": None
        if worth.following is None
        else {"cost": money(worth.following.cost), "strain": strain_json(worth.following.strain)},
    }
