"""What can be chosen, said the plain way: each fix asked anew, to be held against the fast way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from itertools import product

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix, Material
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.planning.model.offers import (
    MOVES_A_LAP,
    LeftOut,
    Offer,
    Offers,
    OptionSpec,
    piece_item,
    sharers,
)
from deskmend.planning.model.options import number_text
from deskmend.planning.model.rules import holds, rule_contexts
from deskmend.planning.model.tables import RULE_ROLES, symbol_of
from deskmend.workstation.effects import Change, changes_of
from deskmend.workstation.fields import Value
from deskmend.workstation.state import DEVICES, PERSON, Owner, State, evaluate, seat_values

MAX_PIECES = 6


def plain_offers(
    case: Case,
    state: State,
    catalog: Catalog,
    prices: PriceTable | None,
    everything: bool = False,
    asked: Collection[str] = (),
) -> Offers:
    """Decisions of a case, fix by fix; nothing is kept from one question to the next."""
    grouped: dict[str, list[OptionSpec]] = {}
    owners: dict[str, Owner] = {}
    left_out: list[LeftOut] = []
    for written in catalog.fixes:
        fix = at_hand(written, case)
        for owner in _owners(fix, state):
            reason = _hindrance(fix, owner, case, state, catalog, prices)
            if reason is None and fix.on_request and fix.id not in asked:
                reason = (
                    "on_request",
                    tr("it is dear or drastic, so it is planned only where asked for by --must"),
                )
            if reason is not None:
                left_out.append(LeftOut(fix, owner, reason[1], reason[0]))
                if not everything:
                    continue
            name = f"{owner[1]}.{fix.decision}" if owner[1] else fix.decision
            owners[name] = owner
            options = list(_options(fix, owner, case, state))
            if not options and fix.size is not None and fix.size.pieces is not None:
                thing = tr(catalog.items[fix.size.pieces].title)
                why = tr("no {thing} of known thickness is owned", thing=thing)
                left_out.append(LeftOut(fix, owner, why, "nothing_owned"))
            grouped.setdefault(name, []).extend(options)
    decisions = tuple(
        Offer(name, owners[name], tuple(options)) for name, options in grouped.items() if options
    )
    return Offers(decisions, tuple(left_out))


def at_hand(fix: Fix, case: Case) -> Fix:
    """The fix with what is owned in place of what is not, where the catalog says that it does as well."""
    owned = Counter({name: own.count for name, own in case.owns.items()})
    materials = []
    for one in fix.materials:
        swap = (
            one.instead is not None
            and owned[one.item] < (one.quantity or 0)
            and owned[one.instead] >= (one.instead_quantity or 0)
        )
        materials.append(Material(item=one.instead, quantity=one.instead_quantity) if swap else one)
    return fix.model_copy(update={"materials": tuple(materials)})


def plain_not_for(fix: Fix, owner: Owner, now: State) -> str | None:
    """Why a fix is not for a workplace, every condition evaluated from the beginning."""
    for caveat in fix.not_for:
        if caveat.when is None:
            continue
        contexts = rule_contexts(owner, [caveat.when.name], lambda t: [(now.place_of[t], None)], now)
        for task, place, _ in contexts:
            value = evaluate(now, task, place)(symbol_of(caveat.when.name), **RULE_ROLES)
            if bool(holds(caveat.when, value)):
                return caveat.why
    return None


def _owners(fix: Fix, state: State) -> tuple[Owner, ...]:
    if fix.scope == "person":
        return (PERSON,)
    if fix.scope == "device":
        return (DEVICES,)
    ids = state.places if fix.scope == "place" else state.tasks
    return tuple((fix.scope, one) for one in ids)


def _hindrance(
    fix: Fix, owner: Owner, case: Case, state: State, catalog: Catalog, prices: PriceTable | None
) -> tuple[str, str] | None:
    """Cause and reason why a fix is not offered, or None."""
    for sign in catalog.signs:
        if sign.id in case.person.warning_signs and fix.decision in sign.blocks:
            return "warning_sign", tr("not with this sign: {sign}", sign=tr(sign.sign))
    for caveat in fix.not_for:
        if caveat.sign is not None and caveat.sign in case.person.warning_signs:
            return "warning_sign", tr(caveat.why)
    why = plain_not_for(fix, owner, state)
    if why is not None:
        return "not_for", tr(why)
    if owner[0] == "place" and not fix.reversible and sharers(case, owner[1]):
        return "shared", tr("others use it too, and it does not come off again")
    means = case.means
    if fix.alters and means.may_alter is not True:
        known = (
            tr("furniture may not be altered")
            if means.may_alter is False
            else tr("nobody said furniture may be altered")
        )
        return "may_not_alter", known
    if fix.leave == "owner" and case.room.landlord_leave is not True:
        return "no_leave", tr("it takes the owner's leave, and nobody said it is given")
    why_here = _misfit(fix, owner, case)
    if why_here is not None:
        return why_here
    if means.skill is not None and fix.skill > means.skill:
        return "skill", tr(
            "it takes skill {needed}, the case says {told}", needed=fix.skill, told=means.skill
        )
    missing = [tool for tool in fix.tools if tool not in (means.tools or ())]
    if missing:
        names = ", ".join(tr(tool.replace("_", " ")) for tool in missing)
        return "tools", tr("tools missing: {tools}", tools=names)
    if prices is not None:
        for material in fix.materials:
            if material.quantity is None or material.item in prices.items:
                continue
            owned = case.owns.get(material.item)
            most = sum(one.quantity or 0 for one in fix.materials if one.item == material.item)
            if owned is None or owned.count < most:
                thing = tr(catalog.items[material.item].title)
                return "no_price", tr("no price for {thing} ({item})", thing=thing, item=material.item)
    return None


def _misfit(fix: Fix, owner: Owner, case: Case) -> tuple[str, str] | None:
    """Cause and reason why a fix goes with no such seat or desk, or None."""
    changed = [effect.change for effect in fix.effects]
    for place in case.places:
        if owner != ("place", place.id):
            continue
        in_wheelchair = place.seat is not None and place.seat.base == "wheelchair"
        if in_wheelchair and any(one.split(".")[0] in ("seat", "back", "feet") for one in changed):
            return "wheelchair", tr(
                "a wheelchair is fitted to who sits in it: its seat, back and footplates are for those who "
                "fit it"
            )
        moves_it = any(one in MOVES_A_LAP for one in changed) and "desk.legs" not in changed
        if place.desk.legs == "lap" and moves_it:
            return "lap", tr("the work lies on the lap, which rises and falls with seat and feet")
    return None


def _options(fix: Fix, owner: Owner, case: Case, state: State) -> Iterator[OptionSpec]:
    seen: Counter[str] = Counter()
    for size, pieces in _sizes(fix, owner, case, state):
        use: Counter[str] = Counter()
        for one in fix.materials:
            grown = one.from_size is None or (isinstance(size, float | int) and size >= one.from_size)
            use[one.item] += (one.quantity or 0) if grown else 0
        use = +use
        if fix.size is not None and fix.size.pieces is not None:
            use.update(piece_item(fix.size.pieces, p) for p in pieces)
        changes = changes_of(fix, owner, size, state)
        moves_to: str | None = None
        for effect in fix.effects:
            if effect.change == "task.place":
                moves_to = str(size)
            elif effect.change == "seat":
                changes += _seat_changes(owner, str(size), case)
        if moves_to is not None and moves_to == state.place_of[owner[1]]:
            continue
        if moves_to is None and _changes_nothing(changes, state):
            continue
        name = fix.id + ("" if size is None else f"={number_text(size)}")
        seen[name] += 1
        if seen[name] > 1:
            name += f"#{seen[name]}"
        yield OptionSpec(name, fix, owner, size, pieces, changes, moves_to, dict(use))


def _changes_nothing(changes: Iterable[Change], state: State) -> bool:
    return all(c.operation == "set" and state.values[c.slot] == c.value for c in changes)


def _seat_changes(owner: Owner, seat: str, case: Case) -> tuple[Change, ...]:
    for place in case.places:
        for other in place.other_seats:
            if place.id == owner[1] and other.id == seat:
                values = seat_values(other)
                return tuple(Change((owner, name), "set", value) for name, value in values.items())
    raise KeyError(seat)


def _sizes(
    fix: Fix, owner: Owner, case: Case, state: State
) -> Iterator[tuple[Value | None, tuple[float, ...]]]:
    size = fix.size
    if size is None:
        yield None, ()
    elif size.words:
        yield from ((word, ()) for word in size.words)
    elif size.pieces is not None:
        owned = case.owns.get(size.pieces)
        pieces = owned.pieces[:MAX_PIECES] if owned is not None else ()
        yield from _stacks(pieces, float(size.low or 0), float(size.high or 0))
    elif size.of is not None:
        yield from ((one, ()) for one in _offered(size.of, size.step or 10.0, owner, case, state))
    else:
        yield from (
            (one, ()) for one in _steps(float(size.low or 0), float(size.high or 0), float(size.step or 1))
        )


def _steps(low: float, high: float, step: float) -> Iterator[float]:
    count = int((high - low) / step + 1e-9)
    yield from (low + step * number for number in range(count + 1))


def _stacks(pieces: tuple[float, ...], low: float, high: float) -> Iterator[tuple[Value, tuple[float, ...]]]:
    """Heights that owned pieces add up to, fewest pieces first among equals."""
    counts = sorted(Counter(pieces).items())
    found = []
    for taken in product(*(range(n + 1) for _, n in counts)):
        stack = tuple(t for (t, _), n in zip(counts, taken, strict=True) for _ in range(n))
        if stack and low <= sum(stack) <= high:
            found.append((sum(stack), len(stack), stack))
    yield from ((height, stack) for height, _, stack in sorted(found))


def _offered(of: str, step: float, owner: Owner, case: Case, state: State) -> Iterator[Value]:
    if of == "places":
        if len(state.places) > 1:
            yield from state.places
        return
    if of == "monitor.top_range":
        if case.devices.monitor is not None and case.devices.monitor.top_range is not None:
            yield from _span(case.devices.monitor.top_range, step)
        return
    place = next(p for p in case.places if p.id == owner[1])
    if of == "other_seats":
        yield from (seat.id for seat in place.other_seats)
    elif of == "seat.height_range" and place.seat is not None and place.seat.height_range is not None:
        yield from _span(place.seat.height_range, step)
    elif of == "seat.slope_range" and place.seat is not None and place.seat.slope_range is not None:
        yield from _span(place.seat.slope_range, step)
    elif of == "seat.recline_range" and place.seat is not None and place.seat.recline_range is not None:
        yield from _span(place.seat.recline_range, step)
    elif of == "seat.armrest_range" and place.seat is not None and place.seat.armrest_range is not None:
        yield from _span(place.seat.armrest_range, step)
    elif of == "desk.height_range" and place.desk.height_range is not None:
        yield from _span(place.desk.height_range, step)


def _span(ends: tuple[float, float], step: float) -> Iterator[float]:
    yield from _steps(ends[0], ends[1], step)
    if (ends[1] - ends[0]) % step > 1e-9:
        yield ends[1]
