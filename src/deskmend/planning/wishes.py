"""Fixes that have to be, and must not be, in a plan: from the case and from the command line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from deskmend.errors import DefectError, Fault
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.ids import parse_fix_name
from deskmend.intake.price_table import PriceTable
from deskmend.intake.wish_names import misnamed
from deskmend.planning.offers import Offers, OptionSpec
from deskmend.planning.selection import matching, select

__all__ = [
    "Wish",
    "asked_ids",
    "contradictions",
    "decision_of",
    "required",
    "ruled_out",
    "unheard",
    "wishes_of",
]


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
