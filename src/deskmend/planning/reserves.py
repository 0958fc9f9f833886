"""What may happen with the steps of a plan, and what help would cost then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import WatchFor
from deskmend.intake.prices import PriceTable
from deskmend.measures import Minor
from deskmend.planning.bill import cheapest_packs
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.rules import concerns
from deskmend.planning.order import OrderedStep
from deskmend.workstation.state import State

__all__ = ["Reserve", "reserves_of"]


@dataclass(frozen=True)
class Reserve:
    """Advice for what may happen, with what it would cost then."""

    option: OptionSpec
    watch: WatchFor
    cost: Minor | None


def reserves_of(steps: Sequence[OrderedStep], after: State, case: Case, prices: PriceTable) -> list[Reserve]:
    """Advice for what may happen with the steps of a plan; what the plan holds anyway needs none."""
    chosen = {item for step in steps for item in step.option.use}
    return [
        Reserve(step.option, watch, _reserve_cost(watch, case, prices))
        for step in steps
        for watch in step.option.fix.watch
        if (watch.item is None or watch.item not in chosen)
        and concerns(watch, step.option.owner, after, len(step.option.pieces))
    ]


def _reserve_cost(watch: WatchFor, case: Case, prices: PriceTable) -> Minor | None:
    """Cost of what would be bought then; None where it is not to be had."""
    if watch.item is None:
        return 0
    owned = case.owns.get(watch.item)
    need = watch.quantity - (owned.count if owned else 0)
    if need <= 0:
        return 0
    priced = prices.items.get(watch.item)
    packs = cheapest_packs(priced, need) if priced else None
    return packs[1] if packs else None
