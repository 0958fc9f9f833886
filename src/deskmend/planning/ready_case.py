"""A case made ready for choosing: what stands in it, what can be chosen, exact tables, rules and wishes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from deskmend.choice import Choice, Problem
from deskmend.choice.problem import part_of
from deskmend.choice.variants import narrowed
from deskmend.errors import DefectError, Fault, InputFaults
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.fields import Owned
from deskmend.intake.reading.records import Record
from deskmend.language import tr
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.draws import Noise
from deskmend.planning.inputs import fitting_faults, sign_warnings
from deskmend.planning.model.cohorts import problems_of
from deskmend.planning.model.model import Model, add_terms, ruled_model
from deskmend.planning.model.offers import KEEP, Offers, OptionSpec, offers_for, stays_in_size
from deskmend.planning.model.tables import TooManyCells
from deskmend.planning.order import Outcomes
from deskmend.planning.score import weights_of
from deskmend.planning.selection import (
    FixKey,
    asked_ids,
    contradictions,
    decision_of,
    key_of,
    required,
    ruled_out,
    select,
    unheard,
    wishes_of,
)
from deskmend.workstation.state import State, state_of

__all__ = [
    "NoPlan",
    "ReadyCase",
    "TooMuchToChoose",
    "owning",
    "prepare",
    "standing",
    "standing_among",
    "standing_case",
]


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


class NoPlan(Exception):
    """No plan keeps to the limits.

    - `hinders`: which limit hinders.
    - `would_help`: what would make a plan possible.
    - `timed_out`: nothing was found in the time allowed, so nobody knows whether there is one.
    - `signs`: what the person's warning signs call for first, plan or no plan.
    """

    def __init__(
        self, hinders: str, would_help: str, timed_out: bool = False, signs: Sequence[str] = ()
    ) -> None:
        self.hinders, self.would_help, self.timed_out = hinders, would_help, timed_out
        self.signs = tuple(signs)
        super().__init__(f"no plan: {hinders}; {would_help}")


class TooMuchToChoose(NoPlan):
    """More can be set and combined in a case than can be worked out exactly.

    - `ranges`: where the case tells within which bounds something can be set.
    """

    def __init__(self, case: Case, signs: Sequence[str]) -> None:
        ranges = [f"{at}.{key}" for at, record in _with_ranges(case) for key in _ranges_told(record)]
        self.ranges = tuple(ranges)
        would_help = tr("refuse fixes that are not wanted")
        if ranges:
            would_help = tr(
                "leave out one or two of these ranges, those that matter least: {ranges}; what has no range "
                "stays as it is",
                ranges=", ".join(ranges),
            )
        super().__init__(
            tr("more can be set here at once than can be worked out exactly"), would_help, signs=signs
        )


def _with_ranges(case: Case) -> Iterator[tuple[str, Record]]:
    """What may be set within a range, by where a case tells it."""
    for place in case.places:
        if place.seat is not None:
            yield f"places.{place.id}.seat", place.seat
        yield f"places.{place.id}.desk", place.desk
    if case.devices.monitor is not None:
        yield "devices.monitor", case.devices.monitor


def _ranges_told(record: Record) -> list[str]:
    return [key for key in type(record).model_fields if key.endswith("_range") and getattr(record, key)]


@dataclass(frozen=True)
class ReadyCase:
    """A case made ready for choosing.

    - `wanted`: what each must rules out: to leave its decision, or to settle it otherwise.
    - `musts`: every option by which a must can be met.
    - `in_place`: what stands already; `state` is without it.
    - `base`: the choice without limits and without wishes.
    - `fixed_strain`: strain that nothing on offer changes.
    - `noise`: tells plans of this case apart.
    - `outcomes`: states and strains that its fixes lead to.
    """

    case: Case
    catalog: Catalog
    prices: PriceTable
    state: State
    offers: Offers
    model: Model
    weights: dict[str, float]
    wanted: tuple[tuple[dict[str, str | int], ...], ...]
    base: Problem
    fixed_strain: Micro
    noise: Noise
    outcomes: Outcomes
    musts: tuple[OptionSpec, ...]
    in_place: tuple[OptionSpec, ...] = ()

    @cached_property
    def now(self) -> State:
        """The place as it is, with what stands in it already."""
        return self.outcomes.of(self.in_place)[0]

    def as_it_is(self, options: Sequence[OptionSpec]) -> bool:
        """Whether some options are just what stands already."""
        return {(key_of(one), one.name) for one in options} == {
            (key_of(one), one.name) for one in self.in_place
        }

    @property
    def signs(self) -> list[str]:
        """What the person's warning signs call for first."""
        return sign_warnings(self.case, self.catalog)

    def problem(self, money: Minor | None, minutes: Minutes | None) -> Problem:
        """The choice within limits."""
        limited = money is not None or minutes is not None
        problem = replace(self.base, money=money, minutes=minutes) if limited else self.base
        return self.with_musts(problem, self.wanted)

    def with_musts(self, problem: Problem, wanted: Iterable[tuple[dict[str, str | int], ...]]) -> Problem:
        """A problem of this case where some musts have to be met."""
        # options that the problem leaves out beforehand need no forbidding, and may not be named
        there = {(one.name, option.name) for one in problem.decisions for option in one.options}
        ruled_out = [
            entry for must in wanted for entry in must if all(pair in there for pair in entry.items())
        ]
        return part_of(problem, forbidden=(*problem.forbidden, *ruled_out)) if ruled_out else problem

    def only(self, fixes: Collection[FixKey]) -> ReadyCase:
        """The same where nothing but these fixes can be taken, at any size.

        Raises DefectError where rules do not let all others be left.
        """
        few = self.narrowed_to(fixes)
        if few is None:
            raise DefectError("other fixes cannot be left as they are")
        return few

    def narrowed_to(self, fixes: Collection[FixKey]) -> ReadyCase | None:
        """The same; None where rules do not let all others be left, or rule these out."""
        return self._kept(lambda option: key_of(option) in fixes)

    def in_sizes_of(self, options: Iterable[OptionSpec]) -> ReadyCase:
        """The same where what is cut, or bought in a size, has that of some options, the last of each fix.

        It does not grow afterwards, so no arrangement before may have it in another size.
        """
        things = self.catalog.items
        sizes = {key_of(one): one.name for one in options if stays_in_size(one, things)}
        same = self._kept(lambda option: sizes.get(key_of(option), option.name) == option.name)
        return self if not sizes or same is None else same

    def _kept(self, wanted: Callable[[OptionSpec], bool]) -> ReadyCase | None:
        kept = {
            offer.name: {KEEP, *(one.name for one in offer.options if wanted(one))}
            for offer in self.offers.decisions
        }
        # by name: of a choice that was narrowed before some options are gone
        left = {
            decision.name: [n for n, one in enumerate(decision.options) if one.name in kept[decision.name]]
            for decision in self.base.decisions
            if decision.name in kept
        }
        base = narrowed(self.base, left)
        return None if base is None else replace(self, base=base)

    def options_of(self, choice: Choice) -> tuple[OptionSpec, ...]:
        """Options that a choice takes, in catalog order."""
        return self.offers.taken(choice.options)


def prepare(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    state: State | None = None,
    offered: Callable[..., Offers] = offers_for,
) -> ReadyCase:
    """Make a case ready for choosing: what can be chosen, exact tables, rules and wishes.

    The wishes of the case count beside `must` and `never`. A state is given where it differs from what the
    case alone tells, as another guess at the body of the same person, and `offered` where it can choose
    otherwise than `offers_for` tells. Raises InputFaults where a wish names nothing that this case offers,
    NoPlan where a must cannot be, and `TooMuchToChoose` where tables would be too large.
    """
    faults = fitting_faults(case, catalog)
    state = state_of(case) if state is None else state
    case = standing_case(case, state, catalog, faults)
    wanted = wishes_of(case, "must", must)
    offers = offered(case, state, catalog, prices, asked=asked_ids(wanted))
    unwanted = wishes_of(case, "never", never)
    chosen = required(wanted, offers, catalog, prices, faults)
    faults += unheard(unwanted, catalog)
    if not faults:
        faults += contradictions(wanted, chosen, unwanted, offers)
    if faults:
        raise InputFaults(faults)
    offers = offers.without(ruled_out(unwanted, offers))
    weights = weights_of(case)
    try:
        model = ruled_model([state], offers)
        add_terms(model, weights)
    except TooManyCells as error:
        raise TooMuchToChoose(case, sign_warnings(case, catalog)) from error
    musts: list[tuple[dict[str, str | int], ...]] = []
    for wish, group in zip(wanted, chosen, strict=True):
        decision, names = decision_of(group[0]), {option.name for option in group}
        options = [
            o.name for offer in model.offers.decisions if offer.name == decision for o in offer.options
        ]
        if names.isdisjoint(options):
            why = next((left.reason for left in model.offers.left_out if left.fix is group[0].fix), "")
            told = tr("{fix} must be in the plan, but cannot be", fix=wish.text)
            signs = sign_warnings(case, catalog)
            raise NoPlan(told, why.rstrip(".") or tr("leave it out"), signs=signs)
        musts.append(tuple({decision: name} for name in (KEEP, *options) if name not in names))
    ((base, fixed),) = problems_of(model, [case], prices)
    in_place = standing_among(model.offers, case, state, catalog, prices)
    noise = Noise(case, state, weights)
    return ReadyCase(
        case=case,
        catalog=catalog,
        prices=prices,
        state=state,
        offers=model.offers,
        model=model,
        weights=weights,
        wanted=tuple(musts),
        base=base,
        fixed_strain=fixed,
        noise=noise,
        outcomes=Outcomes(state, weights, noise.strains),
        musts=tuple(option for group in chosen for option in group),
        in_place=in_place,
    )
