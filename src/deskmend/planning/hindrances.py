"""Why a fix is not offered to a person: signs, what the workplace is like, leave, skill, tools, prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Fix, Item, Sign
from deskmend.intake.price_table import PriceTable
from deskmend.messages import tr
from deskmend.planning.conditions import Exclusion, Readings, exclusions_of
from deskmend.planning.shared_seats import sharers
from deskmend.workstation.state import Owner, State

__all__ = ["Circumstances", "HindranceFinder"]


class Circumstances:
    """What of one case hinders fixes, gathered once for all of them.

    Parameters
    ----------
    case : Case
        The case.
    state : State
        As the case describes it.
    signs : sequence of Sign
        Warning signs of the catalog.
    items : mapping of str to Item
        Items of the catalog.
    prices : PriceTable or None
        What can be bought; None where money does not matter.
    """

    def __init__(
        self,
        case: Case,
        state: State,
        signs: Sequence[Sign],
        items: Mapping[str, Item],
        prices: PriceTable | None,
    ) -> None:
        self.case = case
        self.items = items
        self.prices = prices
        self.now = Readings(state)
        self.skill = case.means.skill
        self.tools = frozenset(case.means.tools or ())
        self.may_alter = case.means.may_alter
        self.owner_lets = case.room.landlord_leave is True
        self.shared_places = frozenset(place.id for place in case.places if sharers(case, place.id))
        self.signs = frozenset(case.person.warning_signs)
        self.blocked: dict[str, str] = {}
        for sign in signs:
            if sign.id in self.signs:
                for decision in sign.blocks:
                    self.blocked.setdefault(decision, sign.sign)


class HindranceFinder:
    """Finds why one fix is not offered for one owner.

    Parameters
    ----------
    fix : Fix
        The fix.
    owner : Owner
        Whom it would be for.
    state : State
        Of anybody with the same places and tasks, done at the same places; only their ids are read.
    """

    def __init__(self, fix: Fix, owner: Owner, state: State) -> None:
        self._fix = fix
        self._signs = tuple((one.sign, one.why) for one in fix.not_for if one.sign is not None)
        self._place = owner[1] if owner[0] == "place" and not fix.reversible else None
        self._materials = tuple((m.item, m.quantity) for m in fix.materials if m.quantity is not None)
        self._exclusions: tuple[Exclusion, ...] = exclusions_of(fix, owner, state)
        self._takes_leave = fix.alters or fix.leave == "owner" or self._place is not None

    def find(self, here: Circumstances) -> tuple[str, str] | None:
        """Cause and reason why the fix is not offered, or None.

        Parameters
        ----------
        here : Circumstances
            Whose case it is.

        Returns
        -------
        tuple of str, or None
            The cause in a word; the reason in the language being read.
        """
        return (
            (self._warned(here) if here.signs else None)
            or (self._not_for(here) if self._exclusions else None)
            or (self._not_allowed(here) if self._takes_leave else None)
            or self._not_able(here)
            or self._not_priced(here)
        )

    def _warned(self, here: Circumstances) -> tuple[str, str] | None:
        sign = here.blocked.get(self._fix.decision)
        if sign is not None:
            return "warning_sign", tr("not with this sign: {sign}", sign=tr(sign))
        for name, why in self._signs:
            if name in here.signs:
                return "warning_sign", tr(why)
        return None

    def _not_for(self, here: Circumstances) -> tuple[str, str] | None:
        for exclusion in self._exclusions:
            if exclusion.applies(here.now):
                return "not_for", tr(exclusion.why)
        return None

    def _not_allowed(self, here: Circumstances) -> tuple[str, str] | None:
        fix = self._fix
        if self._place is not None and self._place in here.shared_places:
            return "shared", tr("others use this seat too, and it does not come off again")
        if fix.alters and here.may_alter is not True:
            known = (
                tr("furniture may not be altered")
                if here.may_alter is False
                else tr("nobody said furniture may be altered")
            )
            return "may_not_alter", known
        if fix.leave == "owner" and not here.owner_lets:
            return "no_leave", tr("it takes the owner's leave, and nobody said it is given")
        return None

    def _not_able(self, here: Circumstances) -> tuple[str, str] | None:
        fix = self._fix
        if here.skill is not None and fix.skill > here.skill:
            return "skill", tr(
                "it takes skill {needed}, the case says {told}", needed=fix.skill, told=here.skill
            )
        if here.tools.issuperset(fix.tools):
            return None
        missing = (tool for tool in fix.tools if tool not in here.tools)
        names = ", ".join(tr(tool.replace("_", " ")) for tool in missing)
        return "tools", tr("tools missing: {tools}", tools=names)

    def _not_priced(self, here: Circumstances) -> tuple[str, str] | None:
        if here.prices is None:
            return None
        priced = here.prices.items
        for item, quantity in self._materials:
            if item in priced:
                continue
            owned = here.case.owns.get(item)
            if owned is None or owned.count < quantity:
                thing = tr(here.items[item].title)
                return "no_price", tr("no price for {thing} ({item})", thing=thing, item=item)
        return None
