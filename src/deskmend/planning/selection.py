"""The fixes that people name: those asked about, those that have to be in a plan, and those that must not.

A name is written as ``kitchen.screen_books=105``; place or task, and size, may be left out where clear.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import product
from typing import Literal

from deskmend.errors import DefectError, Fault, did_you_mean, option_fault
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog, misnamed
from deskmend.intake.prices import PriceTable
from deskmend.intake.reading.text_file import ALLOWED_FIX_NAME, FixName, parse_fix_name
from deskmend.planning.bill import bill_of
from deskmend.planning.model.offers import Offers, OptionSpec
from deskmend.planning.model.options import number_text
from deskmend.planning.model.rules import breaches_of_many
from deskmend.workstation.effects import TwoSets, apply_changes
from deskmend.workstation.state import Owner, State

__all__ = [
    "FixKey",
    "Wish",
    "asked_ids",
    "contradictions",
    "decision_of",
    "key_of",
    "matching",
    "moves_of",
    "required",
    "ruled_out",
    "select",
    "sound_state",
    "sound_states",
    "state_with",
    "unheard",
    "wishes_of",
]

FixKey = tuple[str, Owner]
"""Id of a fix and whom it is for, at whatever size."""


def key_of(option: OptionSpec) -> FixKey:
    """Fix and owner of an option, size aside."""
    return option.fix.id, option.owner


def decision_of(option: OptionSpec) -> str:
    """Name of the decision that an option belongs to, as ``kitchen.screen``."""
    return f"{option.owner[1]}.{option.fix.decision}" if option.owner[1] else option.fix.decision


def state_with(state: State, options: Iterable[OptionSpec]) -> State:
    """State after a set of fixes; raises `TwoSets` where two of them set the same field."""
    taken = list(options)
    changes = [change for option in taken for change in option.changes]
    return apply_changes(state, changes, moves_of(taken))


def moves_of(options: Iterable[OptionSpec]) -> dict[str, str]:
    """Tasks that a set of fixes moves, and where to."""
    return {option.owner[1]: option.moves_to for option in options if option.moves_to is not None}


def sound_state(state: State, options: Sequence[OptionSpec]) -> State | None:
    """State after a set of fixes; None where two set the same field or one breaks a rule."""
    return sound_states(state, [options])[0]


def sound_states(state: State, plans: Sequence[Sequence[OptionSpec]]) -> list[State | None]:
    """The same for many sets, held against the rules together."""
    out: list[State | None] = [None] * len(plans)
    made: dict[int, State] = {}
    for number, options in enumerate(plans):
        with suppress(TwoSets):
            made[number] = state_with(state, options)
    chosen = [tuple((one.fix, one.owner) for one in plans[number]) for number in made]
    broken = breaches_of_many([state] * len(made), list(made.values()), chosen)
    for (number, after), found in zip(made.items(), broken, strict=True):
        out[number] = None if found else after
    return out


def matching(name: FixName, offers: Offers) -> list[OptionSpec]:
    """Options that a name can stand for; a missing prefix or value leaves it open."""
    return [
        option
        for option in offers.options()
        if option.fix.id.lower() == name.fix.lower()
        and (name.prefix is None or option.owner[1].lower() == name.prefix.lower())
        and (name.value is None or _same_size(option, name.value))
    ]


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
    faults: list[Fault],
    standing: bool = False,
) -> tuple[OptionSpec, ...]:
    """Find the options that names stand for, one a name; none where a fault is added to `faults`.

    Prices settle which of several equal stacks is taken. `known` are the ids of all fixes of the catalog, and
    `what` says where the names come from, as ``--with``. What is `standing` may have any size between those
    offered.
    """
    before = len(faults)
    ids = list(known)
    groups = [group for text in names if (group := _named(text, offers, ids, what, faults, standing))]
    for later, group in enumerate(groups):
        for earlier in groups[:later]:
            if decision_of(group[0]) == decision_of(earlier[0]):
                read = f"{earlier[0].with_name} and {group[0].with_name}"
                faults.append(option_fault(what, read, _one_of(group)))
    return _settled(groups, case, prices) if len(faults) == before else ()


def _one_of(rivals: Sequence[OptionSpec]) -> str:
    """What is allowed where two names ask for rivals."""
    return f"one of them: both settle {rivals[0].fix.decision}"


def _named(
    text: str, offers: Offers, ids: Sequence[str], what: str, faults: list[Fault], standing: bool
) -> list[OptionSpec]:
    """Options of one size for one owner; several only where stacks of pieces come to the same height."""

    def fault(allowed: str, hint: str = "") -> list[OptionSpec]:
        faults.append(option_fault(what, text, allowed, hint))
        return []

    name = parse_fix_name(text)
    if name is None:
        return fault(ALLOWED_FIX_NAME)
    if name.fix.lower() not in (known.lower() for known in ids):
        return fault("a fix of the catalog", did_you_mean(name.fix, ids))
    bare = matching(FixName(None, name.fix, None), offers)
    if not bare:
        left = [entry.reason for entry in offers.left_out if entry.fix.id.lower() == name.fix.lower()]
        return fault("a fix that this case offers" + (f" ({left[0]})" if left else ""))
    owners = list(dict.fromkeys(option.owner[1] for option in bare))
    if name.prefix is not None and name.prefix.lower() not in (owner.lower() for owner in owners):
        named = [owner for owner in owners if owner]
        if not named:
            return fault(f"{name.fix} without a place or task before it")
        return fault(f"one of {', '.join(named)} before the point", did_you_mean(name.prefix, named))
    if name.prefix is None and len(owners) > 1:
        return fault("a name with place or task, as " + ", ".join(f"{one}.{name.fix}" for one in owners[:4]))
    found = matching(name, offers)
    if found and (name.value is not None or len({option.size for option in found}) == 1):
        return found
    here = matching(FixName(name.prefix, name.fix, None), offers)
    sizes = list(dict.fromkeys(number_text(option.size) for option in here if option.size is not None))
    if not sizes:
        return fault(f"{name.fix} without a value")
    if standing and len(sizes) > 1 and all(isinstance(one.size, float) and not one.pieces for one in here):
        return fault(f"{name.fix}=VALUE with a size from {sizes[0]} to {sizes[-1]}")
    shown = ", ".join(sizes[:12]) + (f", ... {sizes[-1]}" if len(sizes) > 12 else "")
    return fault(f"{name.fix}=VALUE with one of {shown}", did_you_mean(name.value or "", sizes))


def _settled(
    groups: Sequence[Sequence[OptionSpec]], case: Case, prices: PriceTable | None
) -> tuple[OptionSpec, ...]:
    """One option a name: stacks of equal height are told apart by what is owned and costs least."""
    if prices is None or all(len(group) == 1 for group in groups):
        return tuple(group[0] for group in groups)

    def cost(options: Sequence[OptionSpec]) -> tuple[int, int]:
        bill = bill_of(options, case, prices)
        return len(bill.missing), bill.total

    return min(product(*groups), key=cost)


@dataclass(frozen=True)
class Wish:
    """One wish, and where it was written.

    - `text`: as ``kitchen.screen_books=105``.
    - `key`: ``must`` or ``never``.
    - `case`: whose plan it is about.
    - `number`: its place among the wishes of the case, from 0; None where the command line gave it.
    """

    text: str
    key: Literal["must", "never"]
    case: Case
    number: int | None

    def fault(self, allowed: str, hint: str = "", read: str = "") -> Fault:
        """Make a fault that names the option as typed, or file and line of the case."""
        read = read or self.text
        if self.number is None:
            return option_fault(f"--{self.key}", read, allowed, hint)
        return self.case.fault(("wishes", self.key, self.number), read, allowed, hint)


def wishes_of(case: Case, key: Literal["must", "never"], more: Sequence[str]) -> list[Wish]:
    """List the wishes of a case, then those given beside it."""
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

    A wish at fault has no options in what is given back; its fault is added to `faults`.
    """
    out = []
    for wish in wanted:
        name = parse_fix_name(wish.text)
        found = matching(name, offers) if name is not None else []
        if len({option.owner for option in found}) == 1:
            out.append(found)
        else:
            told: list[Fault] = []
            select([wish.text], offers, wish.case, prices, catalog.by_id, f"--{wish.key}", told)
            faults.extend(wish.fault(fault.allowed, fault.hint) for fault in told)
    return out


def contradictions(
    wanted: Sequence[Wish],
    chosen: Sequence[Sequence[OptionSpec]],
    unwanted: Sequence[Wish],
    offers: Offers,
) -> Iterator[Fault]:
    """Faults of wishes that no plan can fulfil together, whatever it costs.

    `chosen` holds the options that satisfy each of what is wanted.
    """
    for number, (wish, group) in enumerate(zip(wanted, chosen, strict=True)):
        decision = decision_of(group[0])
        names = {option.name for option in group}
        for before, other in zip(wanted[:number], chosen[:number], strict=True):
            if decision_of(other[0]) == decision and names.isdisjoint(option.name for option in other):
                yield wish.fault(_one_of(group), read=f"{before.text} and {wish.text}")
        for refusal in unwanted:
            names -= {one.name for one in _meant(refusal, offers) if decision_of(one) == decision}
            if not names:
                yield refusal.fault(f"a fix that is not a must as well ({wish.text})")
                break


def ruled_out(unwanted: Sequence[Wish], offers: Offers) -> dict[str, list[str]]:
    """Options that must never be, by decision."""
    out: dict[str, list[str]] = {}
    for wish in unwanted:
        for option in _meant(wish, offers):
            out.setdefault(decision_of(option), []).append(option.name)
    return out


def _meant(refusal: Wish, offers: Offers) -> list[OptionSpec]:
    name = parse_fix_name(refusal.text)
    if name is None:
        raise DefectError(f"unchecked name {refusal.text}")
    return matching(name, offers)
