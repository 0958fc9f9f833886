"""What can be chosen for a case: decisions, their options, and what is not offered and why."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from weakref import finalize

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.price_table import PriceTable
from deskmend.messages import tr
from deskmend.planning.hindrances import Circumstances, HindranceFinder
from deskmend.planning.option_making import OptionMaker
from deskmend.planning.option_records import KEEP, LeftOut, Offer, Offers, OptionSpec, piece_item
from deskmend.workstation.state import DEVICES, PERSON, Owner, State

__all__ = ["KEEP", "LeftOut", "Offer", "OfferMaker", "Offers", "OptionSpec", "offers_for", "piece_item"]

KEPT_LAYOUTS = 8
"""Most sets of places and tasks that are kept ready; the people of one table have few."""

Layout = tuple[tuple[str, ...], tuple[tuple[str, str], ...]]
"""Ids of the places, and of the tasks with the place of each."""


class _Candidate:
    """One fix for one owner; what is not needed is not worked out."""

    def __init__(self, fix: Fix, owner: Owner) -> None:
        self.fix, self.owner = fix, owner
        self.decision = f"{owner[1]}.{fix.decision}" if owner[1] else fix.decision
        self._hindrances: HindranceFinder | None = None
        self._options: OptionMaker | None = None

    def hindrance(self, here: Circumstances, asked: Collection[str]) -> tuple[str, str] | None:
        """Cause and reason why it is not offered, or None."""
        if self._hindrances is None:
            self._hindrances = HindranceFinder(self.fix, self.owner, here.now.state)
        reason = self._hindrances.find(here)
        if reason is None and self.fix.on_request and self.fix.id not in asked:
            return (
                "on_request",
                tr("it is dear or drastic, so it is planned only where asked for by --must"),
            )
        return reason

    def options(self, case: Case, state: State) -> Sequence[OptionSpec]:
        """What of it changes anything for a person."""
        if self._options is None:
            self._options = OptionMaker(self.fix, self.owner, state)
        return self._options.options(case, state)


class OfferMaker:
    """Says for one case after another what can be chosen from a catalog.

    What hangs on the catalog and on the ids of places and tasks alone is worked out once, and options are
    shared between people. Sentences are translated anew each time, since the language may change.

    Parameters
    ----------
    catalog : Catalog
        Fixes, items and signs; the catalog itself is not held.
    """

    def __init__(self, catalog: Catalog) -> None:
        self._fixes, self._items, self._signs = catalog.fixes, catalog.items, catalog.signs
        self._layouts: dict[Layout, tuple[_Candidate, ...]] = {}

    def offers(
        self,
        case: Case,
        state: State,
        prices: PriceTable | None,
        everything: bool = False,
        asked: Collection[str] = (),
    ) -> Offers:
        """Decisions of a case; for the parameters see `offers_for`."""
        here = Circumstances(case, state, self._signs, self._items, prices)
        grouped: dict[str, list[OptionSpec]] = {}
        owners: dict[str, Owner] = {}
        left_out: list[LeftOut] = []
        for one in self._candidates(state):
            reason = one.hindrance(here, asked)
            if reason is not None:
                left_out.append(LeftOut(one.fix, one.owner, reason[1], reason[0]))
                if not everything:
                    continue
            options = one.options(case, state)
            size = one.fix.size
            if not options and size is not None and size.pieces is not None:
                thing = tr(self._items[size.pieces].title)
                why = tr("no {thing} of known thickness is owned", thing=thing)
                left_out.append(LeftOut(one.fix, one.owner, why, "nothing_owned"))
            owners[one.decision] = one.owner
            grouped.setdefault(one.decision, []).extend(options)
        decisions = tuple(
            Offer(name, owners[name], tuple(options)) for name, options in grouped.items() if options
        )
        return Offers(decisions, tuple(left_out))

    def _candidates(self, state: State) -> tuple[_Candidate, ...]:
        layout = (state.places, tuple(state.place_of.items()))
        found = self._layouts.get(layout)
        if found is None:
            if len(self._layouts) >= KEPT_LAYOUTS:
                self._layouts.clear()
            found = tuple(_Candidate(fix, owner) for fix in self._fixes for owner in _owners(fix, state))
            self._layouts[layout] = found
        return found


_makers: dict[int, OfferMaker] = {}
"""By the identity of a catalog, for as long as it lives: catalogs are too large to be compared each time."""


def offers_for(
    case: Case,
    state: State,
    catalog: Catalog,
    prices: PriceTable | None,
    everything: bool = False,
    asked: Collection[str] = (),
) -> Offers:
    """Decisions of a case.

    Parameters
    ----------
    case : Case
        The case.
    state : State
        As the case describes it.
    catalog : Catalog
        Fixes.
    prices : PriceTable or None
        What can be bought; None where money does not matter.
    everything : bool
        Offer also what is left out, so that a fix can be looked at that would not be advised.
    asked : collection of str
        Ids of fixes that were asked for by name; those for request only are offered then alone.

    Returns
    -------
    Offers
        Fixes that this person cannot do, may not do, or cannot pay for at any
        price are left out, with the reason. Wishes are not applied here.
    """
    maker = _makers.get(id(catalog))
    if maker is None:
        maker = _makers[id(catalog)] = OfferMaker(catalog)
        finalize(catalog, _makers.pop, id(catalog), None).atexit = False
    return maker.offers(case, state, prices, everything, asked)


def _owners(fix: Fix, state: State) -> tuple[Owner, ...]:
    if fix.scope == "person":
        return (PERSON,)
    if fix.scope == "device":
        return (DEVICES,)
    ids = state.places if fix.scope == "place" else state.tasks
    return tuple((fix.scope, one) for one in ids)
