"""A case made ready for choosing: what can be chosen, exact tables, rules and wishes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from deskmend.choice import Choice, Problem
from deskmend.errors import DefectError, Fault, InputFaults, did_you_mean
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.ids import ALLOWED_FIX_NAME, parse_fix_name
from deskmend.intake.price_table import PriceTable
from deskmend.messages import tr
from deskmend.planning.inputs import fitting_faults
from deskmend.planning.model import Model, add_terms
from deskmend.planning.offers import KEEP, Offers, OptionSpec, offers_for
from deskmend.planning.rules import ruled_model
from deskmend.planning.score import weights_of
from deskmend.planning.selection import matching, select
from deskmend.workstation.state import State, state_of

__all__ = ["NoPlan", "Prepared", "prepare"]


class NoPlan(Exception):
    """No plan keeps to the limits.

    Attributes
    ----------
    hinders : str
        Which limit hinders.
    would_help : str
        What would make a plan possible.
    timed_out : bool
        Nothing was found in the time allowed, so nobody knows whether there is one.
    """

    def __init__(self, hinders: str, would_help: str, timed_out: bool = False) -> None:
        self.hinders, self.would_help, self.timed_out = hinders, would_help, timed_out
        super().__init__(f"no plan: {hinders}; {would_help}")


@dataclass(frozen=True)
class Prepared:
    """A case made ready for choosing.

    Attributes
    ----------
    case, prices, state, offers, model : objects
        What the choice is made from.
    weights : dict
        Region weights [-].
    forbidden : tuple of dict
        What wishes rule out.
    """

    case: Case
    catalog: Catalog
    prices: PriceTable
    state: State
    offers: Offers
    model: Model
    weights: dict[str, float]
    forbidden: tuple[dict[str, str | int], ...]

    def problem(self, money: int | None, minutes: int | None) -> Problem:
        """The choice within money [minor units] and work [min]."""
        base = self.model.problem(self.case, self.prices, money, minutes)
        return replace(base, forbidden=(*base.forbidden, *self.forbidden)) if self.forbidden else base

    def options_of(self, choice: Choice) -> tuple[OptionSpec, ...]:
        """Options that a choice takes, in catalog order."""
        out = []
        for offer in self.offers.decisions:
            name = choice.options[offer.name]
            out += [option for option in offer.options if option.name == name and name != KEEP]
        return tuple(out)


def prepare(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    state: State | None = None,
) -> Prepared:
    """Make a case ready for choosing: what can be chosen, exact tables, rules and wishes.

    Parameters
    ----------
    case : Case
        The case; its own wishes count too.
    catalog : Catalog
        Fixes.
    prices : PriceTable
        What things cost.
    must, never : sequence of str
        Fixes that have to be, and must not be, in the plan.
    state : State, optional
        Of the same people, places and tasks, where it differs from what the case alone tells, as another
        guess at the body; what follows from the case if left out.

    Raises
    ------
    InputFaults
        A wish names nothing that this case offers.
    """
    faults = fitting_faults(case, catalog)
    state = state_of(case) if state is None else state
    wanted = [*case.wishes.must, *must]
    offers = offers_for(case, state, catalog, prices, asked=_asked(wanted))
    unwanted = [*case.wishes.never, *never]
    faults += _unknown(unwanted, catalog)
    chosen = _musts(wanted, offers, case, catalog, prices, faults)
    if faults:
        raise InputFaults(faults)
    offers = offers.without(_refused(unwanted, chosen, offers))
    model = ruled_model(state, offers)
    weights = weights_of(case)
    add_terms(model, weights)
    forbidden: list[dict[str, str | int]] = []
    for text, group in zip(wanted, chosen, strict=True):
        decision = _decision(group[0])
        if all(offer.name != decision for offer in model.offers.decisions):
            why = next((left.reason for left in model.offers.left_out if left.fix is group[0].fix), "")
            raise NoPlan(tr("{fix} must be in the plan, but cannot be", fix=text), why or tr("leave it out"))
        forbidden.append({decision: KEEP})
    return Prepared(case, catalog, prices, state, model.offers, model, weights, tuple(forbidden))


def _asked(wanted: Sequence[str]) -> set[str]:
    """Ids of the fixes that wishes name."""
    names = (parse_fix_name(text) for text in wanted)
    return {name.fix.lower() for name in names if name is not None}


def _refused(
    unwanted: Sequence[str], chosen: Sequence[Sequence[OptionSpec]], offers: Offers
) -> dict[str, list[str]]:
    """Options that wishes rule out, by decision: what must never be, and the rivals of what must be."""
    out: dict[str, list[str]] = {}
    for text in unwanted:
        name = parse_fix_name(text)
        if name is None:
            raise DefectError(f"unchecked name {text}")
        for option in matching(name, offers):
            out.setdefault(_decision(option), []).append(option.name)
    for group in chosen:
        decision = _decision(group[0])
        allowed = {option.name for option in group}
        offer = next(o for o in offers.decisions if o.name == decision)
        out.setdefault(decision, []).extend(o.name for o in offer.options if o.name not in allowed)
    return out


def _decision(option: OptionSpec) -> str:
    return f"{option.owner[1]}.{option.fix.decision}" if option.owner[1] else option.fix.decision


def _unknown(names: Sequence[str], catalog: Catalog) -> list[Fault]:
    out: list[Fault] = []
    for text in names:
        name = parse_fix_name(text)
        if name is None:
            out.append(Fault("command line", None, "never", text, ALLOWED_FIX_NAME))
        elif name.fix.lower() not in (f.lower() for f in catalog.by_id):
            hint = did_you_mean(name.fix, catalog.by_id)
            out.append(Fault("command line", None, "never", text, "a fix of the catalog", hint))
    return out


def _musts(
    names: Sequence[str],
    offers: Offers,
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    faults: list[Fault],
) -> list[list[OptionSpec]]:
    """Options that satisfy each must: all sizes where the name gives none."""
    out = []
    for text in names:
        name = parse_fix_name(text)
        found = matching(name, offers) if name is not None else []
        owners = {option.owner for option in found}
        if len(owners) == 1:
            out.append(found)
        else:
            faults.extend(select([text], offers, case, prices, catalog.by_id, "must").faults)
    return out
