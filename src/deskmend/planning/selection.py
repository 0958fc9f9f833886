"""Fixes that have to be, and must not be, in a plan: from the case and from the command line.

Finding the fixes that people name, and the state that follows from them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

from deskmend.errors import DefectError, Fault, did_you_mean
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog, misnamed
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.ids import ALLOWED_FIX_NAME, FixName, parse_fix_name
from deskmend.planning.bill import bill_of
from deskmend.planning.model.offers import Offers, OptionSpec
from deskmend.planning.model.options import number_text
from deskmend.workstation.effects import apply_changes
from deskmend.workstation.state import State

__all__ = [
    "Selection",
    "Wish",
    "asked_ids",
    "contradictions",
    "decision_of",
    "matching",
    "required",
    "ruled_out",
    "select",
    "state_with",
    "unheard",
    "wishes_of",
]


@dataclass(frozen=True)
class Selection:
    """Options that names stand for.

    Attributes
    ----------
    options : tuple of OptionSpec
        One a name.
    faults : tuple of Fault
        What is wrong with the names.
    """

    options: tuple[OptionSpec, ...]
    faults: tuple[Fault, ...]


def matching(name: FixName, offers: Offers) -> list[OptionSpec]:
    """Options that a name can stand for; a missing prefix or value leaves it open."""
    out = []
    for option in offers.options():
        if option.fix.id.lower() != name.fix.lower():
            continue
        if name.prefix is not None and option.owner[1].lower() != name.prefix.lower():
            continue
        if name.value is not None and not _same_size(option, name.value):
            continue
        out.append(option)
    return out


def _same_size(option: OptionSpec, text: str) -> bool:
    if option.size is None:
        return False
    if isinstance(option.size, str):
        return option.size.lower() == text.lower()
    try:
        return abs(float(text) - float(option.size)) < 1e-6
    except ValueError:
        return False


def select(
    names: Sequence[str],
    offers: Offers,
    case: Case,
    prices: PriceTable | None,
    known: Iterable[str],
    what: str,
) -> Selection:
    """Find the options that names stand for.

    Parameters
    ----------
    names : sequence of str
        As ``kitchen.screen_books=105``.
    offers : Offers
        What can be chosen.
    case : Case
        For ids and what is owned.
    prices : PriceTable or None
        To settle which of several equal stacks is taken.
    known : iterable of str
        Ids of all fixes of the catalog.
    what : str
        Where the names come from, for messages, as ``--with``.
    """
    groups: list[list[OptionSpec]] = []
    faults: list[Fault] = []
    ids = list(known)
    for text in names:
        found, fault = _one(text, offers, case, ids, what)
        if fault is not None:
            faults.append(fault)
        elif found:
            groups.append(found)
    for later, group in enumerate(groups):
        for earlier in groups[:later]:
            if group[0].owner == earlier[0].owner and group[0].fix.decision == earlier[0].fix.decision:
                allowed = f"one of them: both settle {group[0].fix.decision}"
                read = f"{earlier[0].with_name} and {group[0].with_name}"
                faults.append(Fault("command line", None, what, read, allowed))
    if faults:
        return Selection((), tuple(faults))
    return Selection(_settled(groups, case, prices), ())


def _one(
    text: str, offers: Offers, case: Case, ids: list[str], what: str
) -> tuple[list[OptionSpec], Fault | None]:
    def fault(allowed: str, hint: str = "") -> tuple[list[OptionSpec], Fault]:
        return [], Fault("command line", None, what, text, allowed, hint)

    name = parse_fix_name(text)
    if name is None:
        return fault(ALLOWED_FIX_NAME)
    if name.fix.lower() not in (i.lower() for i in ids):
        return fault("a fix of the catalog", did_you_mean(name.fix, ids))
    bare = matching(FixName(None, name.fix, None), offers)
    if not bare:
        left = [entry.reason for entry in offers.left_out if entry.fix.id.lower() == name.fix.lower()]
        return fault("a fix that this case offers" + (f" ({left[0]})" if left else ""))
    owners = list(dict.fromkeys(option.owner for option in bare))
    if name.prefix is not None and name.prefix.lower() not in (o[1].lower() for o in owners):
        places = [o[1] for o in owners if o[1]]
        if not places:
            return fault(f"{name.fix} without a place or task before it")
        return fault(f"one of {', '.join(places)} before the point", did_you_mean(name.prefix, places))
    if name.prefix is None and len(owners) > 1:
        return fault("a name with place or task, as " + ", ".join(f"{o[1]}.{name.fix}" for o in owners[:4]))
    found = matching(name, offers)
    if found and name.value is None and len({o.size for o in found}) > 1:
        found = []
    if not found:
        here = matching(FixName(name.prefix, name.fix, None), offers)
        sizes = list(dict.fromkeys(number_text(o.size) for o in here if o.size is not None))
        if not sizes:
            return fault(f"{name.fix} without a value")
        shown = ", ".join(sizes[:12]) + (f", ... {sizes[-1]}" if len(sizes) > 12 else "")
        return fault(f"{name.fix}=VALUE with one of {shown}", did_you_mean(name.value or "", sizes))
    return found, None


def _settled(groups: list[list[OptionSpec]], case: Case, prices: PriceTable | None) -> tuple[OptionSpec, ...]:
    """One option a name: stacks of equal height are told apart by what is owned and costs least."""
    first = tuple(group[0] for group in groups)
    if prices is None or all(len(group) == 1 for group in groups):
        return first
    best, rank = first, None
    for combo in product(*groups):
        bill = bill_of(combo, case, prices)
        now = (len(bill.missing), bill.total)
        if rank is None or now < rank:
            best, rank = combo, now
    return best


def state_with(state: State, options: Iterable[OptionSpec]) -> State:
    """State after a set of fixes.

    Raises
    ------
    TwoSets
        Two of them set the same field.
    """
    taken = list(options)
    changes = [change for option in taken for change in option.changes]
    moves = {option.owner[1]: option.moves_to for option in taken if option.moves_to is not None}
    return apply_changes(state, changes, moves)


@dataclass(frozen=True)
class Wish:
    """One wish, and where it was written.

    Attributes
    ----------
    text : str
        As ``kitchen.screen_books=105``.
    key : str
        ``must`` or ``never``.
    case : Case
        Whose plan it is about.
    number : int or None
        Its place among the wishes of the case, from 0; None where the command line gave it.
    """

    text: str
    key: Literal["must", "never"]
    case: Case
    number: int | None

    def fault(self, allowed: str, hint: str = "", read: str = "") -> Fault:
        """Make a fault that names the option as typed, or file and line of the case."""
        read = read or self.text
        if self.number is None:
            return Fault("command line", None, f"--{self.key}", read, allowed, hint)
        return self.case.fault(("wishes", self.key, self.number), read, allowed, hint)


def wishes_of(case: Case, key: Literal["must", "never"], more: Sequence[str]) -> list[Wish]:
    """List the wishes of a case, then further ones.

    Parameters
    ----------
    case : Case
        The case.
    key : {"must", "never"}
        Which wishes.
    more : sequence of str
        Given beside the case.
    """
    own: tuple[str, ...] = getattr(case.wishes, key)
    return [
        *(Wish(text, key, case, number) for number, text in enumerate(own)),
        *(Wish(text, key, case, None) for text in more),
    ]


def asked_ids(wanted: Sequence[Wish]) -> set[str]:
    """Ids of the fixes that wishes name."""
    names = (parse_fix_name(wish.text) for wish in wanted)
    return {name.fix.lower() for name in names if name is not None}


def unheard(unwanted: Sequence[Wish], catalog: Catalog) -> list[Fault]:
    """Faults of refusals that mean nothing, and would go unheard."""
    out = []
    for wish in unwanted:
        told = misnamed(wish.text, wish.case, catalog)
        if told is not None:
            out.append(wish.fault(*told))
    return out


def required(
    wanted: Sequence[Wish], offers: Offers, catalog: Catalog, prices: PriceTable, faults: list[Fault]
) -> list[list[OptionSpec]]:
    """Options that satisfy each must: all sizes where the name gives none.

    Parameters
    ----------
    wanted : sequence of Wish
        What has to be in the plan.
    offers : Offers
        What can be chosen.
    catalog, prices : Catalog, PriceTable
        Fixes, and what things cost.
    faults : list of Fault
        Where faults go; a wish at fault has no options in what is given back.
    """
    out = []
    for wish in wanted:
        name = parse_fix_name(wish.text)
        found = matching(name, offers) if name is not None else []
        if len({option.owner for option in found}) == 1:
            out.append(found)
        else:
            told = select([wish.text], offers, wish.case, prices, catalog.by_id, f"--{wish.key}").faults
            faults.extend(wish.fault(fault.allowed, fault.hint) for fault in told)
    return out


def contradictions(
    wanted: Sequence[Wish],
    chosen: Sequence[Sequence[OptionSpec]],
    unwanted: Sequence[Wish],
    offers: Offers,
) -> Iterator[Fault]:
    """Faults of wishes that no plan can fulfil together, whatever it costs.

    Parameters
    ----------
    wanted, chosen : sequences
        What has to be in the plan, and the options that satisfy each.
    unwanted : sequence of Wish
        What must not be.
    offers : Offers
        What can be chosen.
    """
    for number, (wish, group) in enumerate(zip(wanted, chosen, strict=True)):
        decision = decision_of(group[0])
        names = {option.name for option in group}
        for before, other in zip(wanted[:number], chosen[:number], strict=True):
            if decision_of(other[0]) == decision and names.isdisjoint(option.name for option in other):
                allowed = f"one of them: both settle {group[0].fix.decision}"
                yield wish.fault(allowed, read=f"{before.text} and {wish.text}")
        for refusal in unwanted:
            names -= {option.name for option in _meant(refusal, offers) if decision_of(option) == decision}
            if not names:
                yield refusal.fault(f"a fix that is not a must as well ({wish.text})")
                break


def ruled_out(
    unwanted: Sequence[Wish], chosen: Sequence[Sequence[OptionSpec]], offers: Offers
) -> dict[str, list[str]]:
    """Options that wishes rule out, by decision: what must never be, and the rivals of what must be."""
    out: dict[str, list[str]] = {}
    for wish in unwanted:
        for option in _meant(wish, offers):
            out.setdefault(decision_of(option), []).append(option.name)
    for group in chosen:
        decision = decision_of(group[0])
        allowed = {option.name for option in group}
        offer = next(o for o in offers.decisions if o.name == decision)
        out.setdefault(decision, []).extend(o.name for o in offer.options if o.name not in allowed)
    return out


def decision_of(option: OptionSpec) -> str:
    """Name of the decision that an option belongs to, as ``kitchen.screen``."""
    return f"{option.owner[1]}.{option.fix.decision}" if option.owner[1] else option.fix.decision


def _meant(wish: Wish, offers: Offers) -> list[OptionSpec]:
    name = parse_fix_name(wish.text)
    if name is None:
        raise DefectError(f"unchecked name {wish.text}")
    return matching(name, offers)
