"""Which prices a case needs, and which of them decide most: the questions of a price table to fill in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import load_prices
from deskmend.measures import Micro
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.model.rules import breaches
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import state_with
from deskmend.workstation.effects import TwoSets
from deskmend.workstation.state import State, state_of

__all__ = ["PriceQuestion", "price_questions"]

MOST_HELPERS = 3
"""Most further fixes that are taken along to meet what one needs [-]."""


@dataclass(frozen=True)
class PriceQuestion:
    """One item whose price could matter.

    - `pack`: suggested pack size: that of the shipped sample, else the most that one fix takes [item's unit].
    - `relief`: most strain that one fix which takes it removes, alone or with what it needs.
    - `fixes`: fixes that take it, in catalog order.
    """

    item: str
    pack: int
    relief: Micro
    fixes: tuple[str, ...]


def price_questions(case: Case, catalog: Catalog) -> tuple[PriceQuestion, ...]:
    """Items that could matter for a case: by relief, falling, then those of more fixes, then by name.

    What the case owns enough of is not asked, and fixes that the person cannot or may not carry out ask
    nothing.
    """
    state, weights = state_of(case), weights_of(case)
    before = score(state, weights).total
    asked = {fix.id for fix in catalog.fixes}
    offers = offers_for(case, state, catalog, None, asked=asked)
    relief: dict[str, int] = {}
    most: dict[str, int] = {}
    takes: dict[str, dict[str, None]] = {}
    for option in offers.options():
        group = _with_needs(option, offers, state)
        if group is None:
            continue
        gain = before - score(state_with(state, group), weights).total
        for one in group:
            for item, quantity in one.use.items():
                if item in catalog.items:
                    relief[item] = max(relief.get(item, 0), gain)
                    most[item] = max(most.get(item, 0), quantity)
                    takes.setdefault(item, {})[one.fix.id] = None
    sample = catalog.price_folder / "sample_eur.csv"
    packs = {}
    if sample.is_file():
        packs = {item: priced.pack for item, priced in load_prices(sample).items.items()}
    out = []
    for item, gain in relief.items():
        owned = case.owns.get(item)
        if owned is None or owned.count < most[item]:
            out.append(PriceQuestion(item, packs.get(item, most[item]), gain, tuple(takes[item])))
    return tuple(sorted(out, key=lambda one: (-one.relief, -len(one.fixes), one.item)))


def _with_needs(option: OptionSpec, offers: Offers, state: State) -> tuple[OptionSpec, ...] | None:
    """An option with the first fixes that meet what it needs; None where none do."""
    group: tuple[OptionSpec, ...] = (option,)
    for _ in range(MOST_HELPERS + 1):
        try:
            after = state_with(state, group)
        except TwoSets:
            return None
        if not breaches(state, after, [(one.fix, one.owner) for one in group]):
            return group
        helper = next(_helpers(group, offers, after), None)
        if helper is None:
            return None
        group = (*group, helper)
    return None


def _helpers(group: Sequence[OptionSpec], offers: Offers, after: State) -> Iterator[OptionSpec]:
    """Options that set a word which some fix of the group needs and does not find."""
    taken = {(one.owner, one.fix.decision) for one in group}
    wanted = {
        (predicate.name, predicate.value)
        for one in group
        for need in one.fix.needs
        for predicate in need.all
        if predicate.relation == "is"
    }
    for option in offers.options():
        if (option.owner, option.fix.decision) in taken:
            continue
        for change in option.changes:
            name = change.slot[1]
            if (
                change.operation == "set"
                and (name, change.value) in wanted
                and after.values[change.slot] != change.value
            ):
                yield option
                break
