"""Coming back: how it was, what was planned, what is reached, and a plan from there.

What stands in the casebook as done counts as in place; it is added to the case as told now, unless that was
measured with everything in place. What was bought counts as owned, in the size it was bought in. What was
given up is not planned again. The three moments are compared by strain without weights of discomfort, since
these fall with the discomfort itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from deskmend.casebook.entries import Entries
from deskmend.casebook.felt import FeltChange, felt_changes
from deskmend.casebook.store import PersonBook, StepDone, StepState, Visit
from deskmend.errors import Fault, visible
from deskmend.intake.case import Case, Discomfort
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.fields import Owned
from deskmend.intake.reading.ids import parse_fix_name
from deskmend.language import shown_day, tr
from deskmend.measures import Minor, Minutes
from deskmend.planning.assessment import Assessment, assess
from deskmend.planning.beside import Beside, beside
from deskmend.planning.bill import bill_of
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for
from deskmend.planning.plan import Plan, plan
from deskmend.planning.selection import decision_of, key_of, select
from deskmend.workstation.state import state_of

__all__ = ["Moment", "Rechecked", "StepNow", "before_and_reached", "case_of", "recheck", "steps_done"]

StandsNow = Literal["in_place", "other_size", "other_fix", "given_up", "not_done"]


@dataclass(frozen=True)
class Moment:
    """A workplace on a day: as it was, as planned, or as reached."""

    day: date | None
    assessment: Assessment


@dataclass(frozen=True, kw_only=True)
class StepNow:
    """What became of one step.

    - `name`: as it was planned, or as it was done where it was not planned.
    - `planned`: whether the last plan has it.
    - `now`: what stands in its place, where that is another size or another fix.
    - `day`, `why`: of the last word on it.
    """

    name: str
    planned: bool
    stands: StandsNow
    now: str = ""
    day: date | None = None
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Rechecked:
    """A workplace looked at again.

    - `before`: at the first visit.
    - `planned`: with the plan that was given last; None where it cannot be counted any more.
    - `reached`: now, with what is in place.
    - `measured`: whether the case was measured with everything in place.
    - `in_place`: names of what is in place and counted.
    - `bought`: things counted as owned because they were bought [units].
    - `paid`: what was paid so far, as far as it was told; None where nobody said.
    - `again`: the plan from there.
    """

    key: str
    before: Moment
    planned: Moment | None
    reached: Moment
    measured: bool
    steps: tuple[StepNow, ...]
    in_place: tuple[str, ...]
    bought: dict[str, int]
    paid: Minor | None
    again: Plan
    felt: tuple[FeltChange, ...]
    warnings: tuple[str, ...]

    @property
    def nothing_done(self) -> bool:
        """Whether nothing at all stands in the casebook as done, kept or given up."""
        return all(one.stands == "not_done" for one in self.steps)

    @property
    def no_longer(self) -> tuple[str, ...]:
        """What is in place and the plan from there does without."""
        taken = {step.option.with_name for step in self.again.steps}
        return () if self.measured else tuple(name for name in self.in_place if name not in taken)


def case_of(visit: Visit) -> Case:
    """The case of a visit, from the text that is kept of it."""
    return case_of_bytes(visit.case_text.encode("utf-8"), visit.case_file)


def steps_done(
    person: PersonBook,
    names: Sequence[str],
    catalog: Catalog,
    day: date,
    state: StepState,
    why: str,
    entries: Entries,
) -> list[StepDone]:
    """What was done, by names as people type them, in the place of the last visit; faults go to `entries`."""
    visit = person.visits[-1]
    case = case_of(visit)
    offers = offers_for(case, state_of(case), catalog, None, everything=True)
    options: list[OptionSpec] = []
    for name in dict.fromkeys(names):
        options += select([name], offers, case, None, catalog.by_id, "FIX", entries.faults)
    return [
        StepDone(
            day=day,
            name=one.with_name,
            fix=one.fix.id,
            decision=decision_of(one),
            state=state,
            currency=visit.currency,
            why=why,
        )
        for one in options
    ]


def before_and_reached(found: Rechecked, catalog: Catalog, prices: PriceTable) -> Beside:
    """The first visit and now beside each other, with nobody's discomfort in either."""

    def plainly(moment: Moment) -> Assessment:
        case, names = moment.assessment.case, [one.with_name for one in moment.assessment.options]
        person = case.person.model_copy(update={"discomfort": Discomfort()})
        return assess(case.model_copy(update={"person": person}), catalog, prices, names)

    return beside(plainly(found.before), plainly(found.reached))


def recheck(
    person: PersonBook,
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    *,
    day: date | None = None,
    measured: bool = False,
    budget: Minor | None = None,
    minutes: Minutes | None = None,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> Rechecked:
    """Look at a workplace again, and plan from there.

    - `person`: with at least one visit.
    - `case`: the workplace now, without what stands as done, or with it where `measured`.
    - `budget`, `minutes`, `must`, `never`: for the plan from there, as in `plan`.
    - raises `NoPlan`, `InputFaults` as `plan` does.
    """
    first, last = person.visits[0], person.visits[-1]
    warnings: list[str] = []
    offers = offers_for(case, state_of(case), catalog, prices, everything=True)
    word = person.last_of_each()
    kept = _options(
        (one.name for one in word.values() if one.state == "kept"), offers, case, catalog, prices, warnings
    )
    every = _options(dict.fromkeys(one.name for one in person.done), offers, case, catalog, prices, [])
    bought, owning = _owning(case, prices, every, kept if measured else ())
    refused = [*never, *_not_again(person.done, word, every, offers, case, prices)]
    again = plan(
        owning, catalog, prices, budget, minutes, must=must, never=tuple(dict.fromkeys(refused)), notes=notes
    )
    in_place = tuple(option.with_name for option in kept)
    paid = [one.paid for one in person.done if one.paid is not None and one.currency == prices.currency]
    return Rechecked(
        key=person.key,
        before=Moment(first.day, assess(case_of(first), catalog, prices)),
        planned=_planned(last, catalog, prices, warnings),
        reached=Moment(day, assess(case, catalog, prices, () if measured else in_place)),
        measured=measured,
        steps=tuple(_steps_now(last, person.done, word)),
        in_place=in_place,
        bought=bought,
        paid=sum(paid) if paid else None,
        again=again,
        felt=felt_changes(person.felt),
        warnings=tuple(dict.fromkeys([*warnings, *again.warnings])),
    )


def _options(
    names: Iterable[str],
    offers: Offers,
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    warnings: list[str],
) -> tuple[OptionSpec, ...]:
    """What names of the casebook stand for in a case; what it does not have any more is told."""
    out: list[OptionSpec] = []
    for name in names:
        faults: list[Fault] = []
        out += select([name], offers, case, prices, catalog.by_id, "done", faults)
        if faults:
            told = tr("{fix} stands in the casebook, but not with this case: left out", fix=visible(name))
            warnings.append(told)
    return tuple(out)


def _base(name: str) -> tuple[str, str]:
    """Whom a fix is for and its id, size aside; ids are those of a case that was read."""
    parsed = parse_fix_name(name)
    return ("", name.lower()) if parsed is None else ((parsed.prefix or "").lower(), parsed.fix.lower())


def _owning(
    case: Case, prices: PriceTable, every: Sequence[OptionSpec], built_in: Sequence[OptionSpec]
) -> tuple[dict[str, int], Case]:
    """What was bought for all that was ever done, and the case with it among what is owned.

    Of one fix in several sizes the most of each thing counts, and what is carried was bought once. What a
    case already owns is not counted twice. Of a pack that was opened, the rest is there too. What is
    `built_in`, in a place that was measured with it, is not free for anything else.
    """
    use: Counter[str] = Counter()
    packs: dict[str, int] = {}
    by_fix: dict[object, Counter[str]] = {}
    standing = {key_of(option) for option in built_in}
    for option in every:
        if key_of(option) in standing:
            continue
        key = option.fix.id if option.fix.carried else key_of(option)
        units = Counter({plain_item(item): count for item, count in option.use.items()})
        packs |= {plain_item(item): prices.items[item].pack for item in option.use if item in prices.items}
        by_fix[key] = by_fix.get(key, Counter()) | units
    for counted in by_fix.values():
        use.update(counted)
    bought: dict[str, int] = {}
    owns = dict(case.owns)
    for item, count in use.items():
        had = owns.get(item, Owned(0))
        need = count - had.count
        if ":" in item or need <= 0:
            continue
        pack = packs.get(item, 1)
        bought[item] = -(-need // pack) * pack
        owns[item] = Owned(had.count + bought[item], had.pieces)
    return bought, case.model_copy(update={"owns": owns})


def _not_again(
    done: Sequence[StepDone],
    word: dict[str, StepDone],
    every: Sequence[OptionSpec],
    offers: Offers,
    case: Case,
    prices: PriceTable,
) -> list[str]:
    """What is not to be planned: what was given up, and other sizes of what was bought in one."""
    out = []
    last: dict[tuple[str, str], StepDone] = {_base(one.name): one for one in done}
    here = {key_of(option): option for option in every}
    for option in here.values():
        one = last[_base(option.with_name)]
        prefix = f"{option.owner[1]}." if option.owner[1] else ""
        if one.state == "given_up":
            out.append(prefix + option.fix.id)
        elif word[one.decision] is one and bill_of([option], case, prices).total:
            out += [
                other.with_name
                for other in offers.options()
                if key_of(other) == key_of(option) and other.with_name.lower() != one.name.lower()
            ]
    return out


def _planned(last: Visit, catalog: Catalog, prices: PriceTable, warnings: list[str]) -> Moment | None:
    """The last plan on the case that it was made for, counted anew so that all three are counted alike."""
    case = case_of(last)
    offers = offers_for(case, state_of(case), catalog, prices, everything=True)
    names = [step.name for step in last.steps]
    faults: list[Fault] = []
    select(names, offers, case, prices, catalog.by_id, "planned", faults)
    if faults:
        gone = ", ".join(dict.fromkeys(visible(fault.read or "") for fault in faults))
        warnings.append(
            tr(
                "the plan of {day} cannot be counted any more, the catalog has changed: {fixes}",
                day=shown_day(last.day),
                fixes=gone,
            )
        )
        return None
    return Moment(last.day, assess(case, catalog, prices, names))


def _steps_now(last: Visit, done: Sequence[StepDone], word: dict[str, StepDone]) -> Iterable[StepNow]:
    """What became of each step of the last plan, then of what was done beside it."""
    by_base = {_base(one.name): one for one in done}
    planned = set()
    for step in last.steps:
        planned.add(_base(step.name))
        one = by_base.get(_base(step.name))
        if one is None:
            yield StepNow(name=step.name, planned=True, stands="not_done")
        else:
            yield _step_now(step.name, one, word, planned=True)
    for base, one in by_base.items():
        if base not in planned:
            yield _step_now(one.name, one, word, planned=False)


def _step_now(name: str, one: StepDone, word: dict[str, StepDone], planned: bool) -> StepNow:
    stands: StandsNow = "in_place"
    now = ""
    standing = word[one.decision]
    if standing is not one and standing.state == "kept":
        stands, now = "other_fix", standing.name
    elif one.state == "given_up":
        stands = "given_up"
    elif standing is not one:
        # what took its place was given up in turn
        stands = "given_up"
    elif one.name.lower() != name.lower():
        stands, now = "other_size", one.name
    return StepNow(name=name, planned=planned, stands=stands, now=now, day=one.day, why=one.why)
