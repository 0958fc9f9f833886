"""What stands in a place already: fixes that a case tells as in place, and what they are made of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from deskmend.errors import Fault
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.fields import Owned
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.selection import key_of, select
from deskmend.workstation.state import State

__all__ = ["owning", "standing", "standing_among", "standing_case"]


def standing(
    case: Case, offers: Offers, catalog: Catalog, prices: PriceTable | None, faults: list[Fault]
) -> tuple[OptionSpec, ...]:
    """Options that a case tells as in place; faults of names that it does not offer are added."""
    before = len(faults)
    for number, name in enumerate(case.in_place):
        told: list[Fault] = []
        select([name], offers, case, prices, catalog.by_id, "in_place", told, standing=True)
        faults += [case.fault(("in_place", number), fault.read, fault.allowed, fault.hint) for fault in told]
    if len(faults) > before:
        return ()
    rivals: list[Fault] = []
    found = select(case.in_place, offers, case, prices, catalog.by_id, "in_place", rivals)
    faults += [case.fault(("in_place",), fault.read, fault.allowed, fault.hint) for fault in rivals]
    return found


def standing_case(case: Case, state: State, catalog: Catalog, faults: list[Fault]) -> Case:
    """The case with what stands in it among what is owned: it was bought or found once."""
    if not case.in_place:
        return case
    everything = offers_for(case, state, catalog, None, everything=True)
    return owning(case, standing(case, everything, catalog, None, faults))


def owning(case: Case, options: Sequence[OptionSpec]) -> Case:
    """The case with all that some fixes take among what is owned; what is carried is taken once."""
    use: Counter[str] = Counter()
    for option in {one.fix.id if one.fix.carried else one.with_name: one for one in options}.values():
        use.update({plain_item(item): units for item, units in option.use.items() if ":" not in item})
    owns = dict(case.owns)
    for item, units in use.items():
        had = owns.get(item, Owned(0))
        if units > had.count:
            owns[item] = Owned(units, had.pieces)
    return case.model_copy(update={"owns": owns})


def standing_among(
    offers: Offers, case: Case, state: State, catalog: Catalog, prices: PriceTable
) -> tuple[OptionSpec, ...]:
    """What stands in a case, as the options that are planned with; what these lack is made beside."""
    if not case.in_place:
        return ()
    every = offers_for(case, state, catalog, prices, everything=True)
    ours = {(key_of(one), one.name): one for one in offers.options()}
    found = standing(case, every, catalog, prices, [])
    return tuple(ours.get((key_of(one), one.name), one) for one in found)
