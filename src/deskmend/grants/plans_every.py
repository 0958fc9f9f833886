"""Every plan of one person that could matter where scarce things or bulk prices couple people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from deskmend.choice.labels import TooWide
from deskmend.choice.weighted import Weighted
from deskmend.grants.person import MOST_BOXES, Band, Column, every_plan
from deskmend.grants.plans import PersonPlans

__all__ = ["every"]

Key = tuple[tuple[str, int], ...]


def every(
    plans: PersonPlans, base: Mapping[str, int], items: Sequence[str], band: Band
) -> list[Column] | None:
    """Find every plan that could matter where packs of some items couple people.

    In one pass where the prices of all these items stay open. Otherwise the same search as
    `deskmend.grants.person.every_plan`, box by box of limits on packs; but of each box only what lies within
    the band is looked for, not the whole frontier.

    Parameters
    ----------
    plans : PersonPlans
        The person.
    base : mapping of str to int
        Listed price of a pack of every item [minor units].
    items : sequence of str
        Items whose packs couple people.
    band : Band
        Which plans can matter.

    Returns
    -------
    list of Column or None
        None where there are too many boxes.
    """
    at = {**base, **band.prices}
    dearer = all(at[name] >= base[name] for name in base if name not in items)
    if plans.workshop.rosa is not None or not dearer:
        return every_plan(plans, base, items, band)
    used = {item.name for item in plans.base.items}
    if set(items) & used <= set(plans.workshop.coupling):
        found_at_once = _at_once(plans, band)
        if found_at_once is not None:
            return found_at_once
    free = {item: 0 for item in items if item in used}
    most = band.at_most - band.strain_weight * plans.fixed_strain
    found: dict[tuple[Key, int], Column] = {}
    waiting: list[Key] = [()]
    seen = set(waiting)
    while waiting:
        if len(seen) > MOST_BOXES:
            return None
        limits = dict(waiting.pop())
        search = Weighted(plans.problem(free, limits))
        try:
            rungs = search.within(band.strain_weight, band.money_weight, most, plans.case.means.minutes)
        except TooWide:
            return every_plan(plans, base, items, band)
        uses: set[tuple[str, int]] = set()
        for column in map(plans.column, rungs):
            found.setdefault((column.packs, column.strain), column)
            uses.update((item, count) for item, count in column.packs if item in free)
        for item, count in sorted(uses):
            tighter = tuple(sorted({**limits, item: count - 1}.items()))
            if tighter not in seen:
                seen.add(tighter)
                waiting.append(tighter)
    return list(found.values())


def _at_once(plans: PersonPlans, band: Band) -> list[Column] | None:
    """All plans within the band that nothing beats; None where there are too many labels."""
    search = plans.open_prices()
    if search is None:
        return None
    most = band.at_most - band.strain_weight * plans.fixed_strain
    try:
        found = search.unbeaten(
            band.strain_weight, band.money_weight, band.prices, most, plans.case.means.minutes
        )
    except TooWide:
        return None
    return [plans.column(choice) for choice in found]
