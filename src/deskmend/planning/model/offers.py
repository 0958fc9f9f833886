"""What can be chosen for a case: decisions, their options, and what is not offered and why.

A fix is hindered by signs, by what the workplace is like, by leave, skill, tools and prices. Seats and
desks that several people use are told apart: what is left there must come off again, and must not shut
anybody out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from weakref import finalize

from deskmend.intake.case import Case, Person
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import CatalogItem, Fix, Material, Sign
from deskmend.intake.prices import PriceTable, plain_item, sized_item
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.language import shown_length, tr
from deskmend.planning.model.options import (
    KEEP,
    SIZE,
    LeftOut,
    Offer,
    Offers,
    OptionMaker,
    OptionSpec,
    number_text,
    piece_item,
)
from deskmend.planning.model.rules import Exclusion, exclusions_of
from deskmend.planning.model.tables import StateArrays
from deskmend.workstation.body import DIMENSIONS, estimate_body
from deskmend.workstation.fields import Value
from deskmend.workstation.posture import FEET_HANG_AT_LEAST
from deskmend.workstation.state import DEFAULT_SHOES, PERSON, Owner, Slot, State, evaluate

__all__ = [
    "KEEP",
    "Circumstances",
    "HindranceFinder",
    "LeftOut",
    "Offer",
    "OfferMaker",
    "Offers",
    "OptionSpec",
    "offers_for",
    "piece_item",
    "shared_notes",
    "sharers",
    "stays_in_size",
]

MOVES_A_LAP = (
    "seat",
    "seat.height",
    "seat.pad",
    "feet.height",
    "feet.on",
    "screen.raise",
    "desk.tilt",
    "keyboard.drop",
    "arms.supported",
)
"""What is not changed under or on a lap: it rises and falls with seat and feet, and carries no stack."""
CARRIES_THE_BODY = ("seat", "back", "feet")
"""Parts of a place that a wheelchair brings with it: who fits it sets them (judgement)."""


def sharers(case: Case, place: str) -> tuple[Person, ...]:
    """Further people who use the seat or the desk of a place, each once."""
    here = next((one for one in case.places if one.id == place), None)
    if here is None:
        return ()
    at_seat = () if here.seat is None else here.seat.shared_with
    return (*at_seat, *(one for one in here.desk.shared_with if one not in at_seat))


def _what_is_shared(case: Case, place: str) -> str:
    here = next(one for one in case.places if one.id == place)
    seat = here.seat is not None and bool(here.seat.shared_with)
    if seat and here.desk.shared_with:
        return tr("Seat and desk at {place} are shared.", place=place)
    if seat:
        return tr("The seat at {place} is shared.", place=place)
    return tr("The desk at {place} is shared.", place=place)


def _on_the_seat(case: Case, place: str) -> tuple[Person, ...]:
    here = next(one for one in case.places if one.id == place)
    return () if here.seat is None else here.seat.shared_with


def shared_notes(case: Case, stages: Sequence[State]) -> tuple[str, ...]:
    """What has to be said about shared seats and desks that are worked at while a plan is carried out.

    That everything must come off again, and for the smallest and the largest of the others (by stature)
    whether the legs fit and the feet rest with what the last stage at work there puts there. Their bodies are
    estimated where not measured.
    """
    out: list[str] = []
    for place in (place.id for place in case.places):
        others = sorted(sharers(case, place), key=lambda person: person.stature)
        used = [state for state in stages if place in state.place_of.values()]
        if not others or not used:
            continue
        out.append(
            _what_is_shared(case, place)
            + " "
            + tr(
                "Only what comes off again is planned for it: take it off, or set it back, before somebody "
                "else sits down."
            )
        )
        # on what somebody sits who shares the desk alone, nobody told
        seated = [one for one in others if one in _on_the_seat(case, place)]
        for one in dict.fromkeys((seated[0], seated[-1])) if seated else ():
            out.extend(_misfits(one, place, used[-1]))
    return tuple(out)


def _misfits(one: Person, place: str, after: State) -> Iterator[str]:
    measured = {name: getattr(one.body, name, None) for name in DIMENSIONS}
    body = estimate_body(one.likely_stature, one.sex, measured, one.age)
    values: dict[Slot, Value] = {(PERSON, f"body.{name}"): body[name] for name in DIMENSIONS}
    values[PERSON, "person.shoes"] = DEFAULT_SHOES if one.shoes is None else one.shoes
    task = next(task for task, at in after.place_of.items() if at == place)
    evaluation = evaluate(after.with_values(values), task, place)
    if float(evaluation("stand_share")) >= 1.0:
        return
    stature = shown_length(one.stature)
    if float(evaluation("clearance")) < 0.0:
        yield tr(
            "With this plan in place the legs of a person of {stature} do not fit under the desk at {place}.",
            stature=stature,
            place=place,
        )
    gap = float(evaluation("leg_gap"))
    if gap >= FEET_HANG_AT_LEAST:
        yield tr(
            "With this plan in place the feet of a person of {stature} hang by {gap} at {place}.",
            stature=stature,
            gap=shown_length(gap),
            place=place,
        )


class Circumstances:
    """What of one case hinders fixes, gathered once for all of them; without prices money does not matter."""

    def __init__(
        self,
        case: Case,
        state: State,
        signs: Sequence[Sign],
        items: Mapping[str, CatalogItem],
        prices: PriceTable | None,
    ) -> None:
        self.case = case
        self.items = items
        self.prices = prices
        self.now = StateArrays([state])
        self.skill = case.means.skill
        self.tools = frozenset(case.means.tools or ())
        self.may_alter = case.means.may_alter
        self.owner_lets = case.room.landlord_leave is True
        self.shared_places = frozenset(place.id for place in case.places if sharers(case, place.id))
        self.wheelchairs = frozenset(
            place.id for place in case.places if place.seat is not None and place.seat.base == "wheelchair"
        )
        self.laps = frozenset(place.id for place in case.places if place.desk.legs == "lap")
        self.signs = frozenset(case.person.warning_signs)
        self.blocked: dict[str, str] = {}
        for sign in signs:
            if sign.id in self.signs:
                for decision in sign.blocks:
                    self.blocked.setdefault(decision, sign.sign)


class HindranceFinder:
    """Finds why one fix is not offered for one owner.

    The state is that of anybody with the same places and tasks, done at the same places: only ids are read.
    """

    def __init__(self, fix: Fix, owner: Owner, state: State) -> None:
        self._fix = fix
        self._signs = tuple((one.sign, one.why) for one in fix.not_for if one.sign is not None)
        self._place = owner[1] if owner[0] == "place" and not fix.reversible else None
        most = Counter[str]()
        for one in fix.materials:
            most[one.item] += one.quantity or 0
        self._materials = tuple((item, quantity) for item, quantity in most.items() if quantity)
        self._exclusions: tuple[Exclusion, ...] = exclusions_of(fix, owner, state)
        carries = any(effect.change.partition(".")[0] in CARRIES_THE_BODY for effect in fix.effects)
        self._carries_at = owner[1] if owner[0] == "place" and carries else None
        changed = {effect.change for effect in fix.effects}
        on_lap = not changed.isdisjoint(MOVES_A_LAP) and "desk.legs" not in changed
        self._on_lap_at = owner[1] if owner[0] == "place" and on_lap else None
        self._takes_leave = fix.alters or fix.leave == "owner" or self._place is not None

    def find(self, here: Circumstances) -> tuple[str, str] | None:
        """Cause in a word why the fix is not offered, and reason in the language being read; or None."""
        return (
            (self._warned(here) if here.signs else None)
            or (self._not_for(here) if self._exclusions else None)
            or (self._not_allowed(here) if self._takes_leave else None)
            or self._fitted(here)
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
            return "shared", tr("others use it too, and it does not come off again")
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

    def _fitted(self, here: Circumstances) -> tuple[str, str] | None:
        if self._carries_at in here.wheelchairs:
            return "wheelchair", tr(
                "a wheelchair is fitted to who sits in it: its seat, back and footplates are for those who "
                "fit it"
            )
        if self._on_lap_at in here.laps:
            return "lap", tr("the work lies on the lap, which rises and falls with seat and feet")
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
            if item in priced or item in here.prices.by_size:
                continue
            owned = here.case.owns.get(item)
            if owned is None or owned.count < quantity:
                thing = tr(here.items[item].title)
                return "no_price", tr("no price for {thing} ({item})", thing=thing, item=item)
        return None


OF_MAKING = ("may_not_alter", "no_leave", "skill", "tools", "no_price", "on_request")
"""Causes that hinder the making of a fix; what is in place already they do not hinder."""

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
        self._does_as_well = any(material.instead is not None for material in fix.materials)
        self._made_otherwise: dict[tuple[Material, ...], _Candidate] = {}

    def at_hand(self, case: Case, kept: dict[tuple[str, tuple[Material, ...]], Fix]) -> _Candidate:
        """The same fix made of what a person owns, where that does as well.

        All who own it and all places share it: `kept` holds those made already.
        """
        if not self._does_as_well:
            return self
        fix = self.fix.made_of(lambda item: case.owns[item].count if item in case.owns else 0)
        if fix is self.fix:
            return self
        if fix.materials not in self._made_otherwise:
            shared = kept.setdefault((fix.id, fix.materials), fix)
            self._made_otherwise[fix.materials] = _Candidate(shared, self.owner)
        return self._made_otherwise[fix.materials]

    def hindrance(self, here: Circumstances, asked: Collection[str]) -> tuple[str, str] | None:
        """Cause and reason why it is not offered, or None."""
        if self._hindrances is None:
            self._hindrances = HindranceFinder(self.fix, self.owner, here.now.first)
        reason = self._hindrances.find(here)
        if reason is None and self.fix.on_request and self.fix.id not in asked:
            return (
                "on_request",
                tr("it is dear or drastic, so it is planned only where asked for by --must"),
            )
        return reason

    def is_named(self, fix: str, owner: str | None) -> bool:
        """Whether a name means it; left out, the owner is any."""
        return self.fix.id.lower() == fix and owner in (None, self.owner[1].lower())

    def options(self, case: Case, state: State) -> Sequence[OptionSpec]:
        """What of it changes anything for a person."""
        if self._options is None:
            self._options = OptionMaker(self.fix, self.owner, state)
        return self._options.options(case, state)

    def with_sizes(self, texts: Sequence[str], options: Sequence[OptionSpec]) -> Sequence[OptionSpec]:
        """Its options, and at sizes between them that are in place; small sizes first."""
        between = [] if self._options is None else self._options.between(texts, options)
        if not between:
            return options
        return sorted([*options, *between], key=lambda option: float(option.size or 0.0))


class OfferMaker:
    """Says for one case after another what can be chosen from a catalog.

    What hangs on the catalog and on the ids of places and tasks alone is worked out once, and options are
    shared between people. Sentences are translated anew each time, since the language may change. The catalog
    itself is not held.
    """

    def __init__(self, catalog: Catalog) -> None:
        self._fixes, self._items, self._signs = catalog.fixes, catalog.items, catalog.signs
        self._layouts: dict[Layout, tuple[_Candidate, ...]] = {}
        self._made_otherwise: dict[tuple[str, tuple[Material, ...]], Fix] = {}

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
        standing = _standing(case)
        for candidate in self._candidates(state):
            one = candidate.at_hand(case, self._made_otherwise)
            reason = one.hindrance(here, asked)
            stands = {size for fix, owner, size in standing if one.is_named(fix, owner)}
            told = [size for size in stands if size is not None]
            if reason is not None and not (stands and reason[0] in OF_MAKING):
                left_out.append(LeftOut(one.fix, one.owner, reason[1], reason[0]))
                if not everything:
                    continue
            options = one.options(case, state)
            if told:
                options = one.with_sizes(told, options)
            if told and not everything:
                there = [option for option in options if _size_text(option) in stands]
                options = there if any(stays_in_size(one, self._items) for one in there) else options
            if stands:
                options = [_made(option) if _size_text(option) in stands else option for option in options]
            if prices is not None and prices.by_size:
                options = [_sold_by_size(option, case, prices) for option in options]
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
            found = tuple(_Candidate(fix, owner) for fix in self._fixes for owner in state.owners(fix.scope))
            self._layouts[layout] = found
        return found


def stays_in_size(option: OptionSpec, items: Mapping[str, CatalogItem]) -> bool:
    """Whether what it takes is cut, or bought in its size: it does not grow, so it has no other then."""
    things = (items[plain_item(item)] for item in option.use if ":" not in item)
    return option.size is not None and (option.is_cut or any(thing.sized for thing in things))


def _standing(case: Case) -> list[tuple[str, str | None, str | None]]:
    """What a case tells as in place: fix, owner and size, in small letters."""
    names = (parse_fix_name(text) for text in case.in_place)
    return [
        (
            name.fix.lower(),
            None if name.prefix is None else name.prefix.lower(),
            None if name.value is None else _size_told(name.value),
        )
        for name in names
        if name is not None
    ]


def _size_told(text: str) -> str:
    return number_text(float(text)) if SIZE.fullmatch(text) else text.lower()


def _size_text(option: OptionSpec) -> str | None:
    return None if option.size is None else number_text(option.size).lower()


def _made(option: OptionSpec) -> OptionSpec:
    """The same option where its work is done already."""
    return replace(option, fix=option.fix.model_copy(update={"minutes": 0}))


def _sold_by_size(option: OptionSpec, case: Case, prices: PriceTable) -> OptionSpec:
    """The same option taking things by the price of its size, where that has one and too few are owned."""
    if option.size is None or prices.by_size.isdisjoint(option.use):
        return option
    size = number_text(option.size)
    use: dict[str, int] = {}
    for item, units in option.use.items():
        owned = case.owns.get(item)
        priced = sized_item(item, size)
        here = priced in prices and (owned is None or owned.count < units)
        use[priced if here else item] = units
    return option if use == option.use else replace(option, use=use)


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
    """Decisions of a case; without prices money does not matter.

    Fixes that this person cannot do, may not do, or cannot pay for at any price are left out, with the
    reason. With `everything` they are offered nevertheless, so that a fix can be looked at that would not be
    advised. `asked` are the ids of fixes asked for by name; those for request only are offered then alone.
    Wishes are not applied here.
    """
    maker = _makers.get(id(catalog))
    if maker is None:
        maker = _makers[id(catalog)] = OfferMaker(catalog)
        finalize(catalog, _makers.pop, id(catalog), None).atexit = False
    return maker.offers(case, state, prices, everything, asked)
