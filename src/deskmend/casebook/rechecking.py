"""Coming back: how it was, what was planned, what is reached, and a plan from there.

What stands in the casebook as done counts as in place; it is added to the case as told now, unless that was
measured with everything in place. What was bought counts as owned, in the size it was bought in. What was
given up is not planned again. The three moments are compared by strain without weights of discomfort, since
these fall with the discomfort itself.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from deskmend.casebook.learning import FeltChange, felt_changes
from deskmend.casebook.store import PersonBook, Rating, StepDone, StepState, Visit
from deskmend.casebook.visits import Entries, Shown, case_of_visit, outdated_ratings, shown_in
from deskmend.errors import DefectError, Fault, FaultList, visible
from deskmend.intake.case import Case, Discomfort
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import CatalogItem
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.fields import Owned
from deskmend.intake.reading.text_file import parse_fix_name
from deskmend.intake.reading.yaml_tree import (
    ScalarNode,
    SequenceNode,
    parse_tree,
    text_with,
    with_value,
    without_value,
)
from deskmend.language import shown_day, tr
from deskmend.measures import Minor, Minutes, format_amount
from deskmend.planning.assessment import Assessment, Beside, assess, beside
from deskmend.planning.bill import owned_units
from deskmend.planning.model.offers import Offers, OptionSpec, offers_for, stays_in_size
from deskmend.planning.plan import Plan, plan
from deskmend.planning.selection import decision_of, key_of, matching, select
from deskmend.workstation.state import state_of

__all__ = [
    "Moment",
    "Rechecked",
    "StepNow",
    "before_and_reached",
    "follow_up_text",
    "no_longer_wanted",
    "paid_together",
    "recheck",
    "steps_done",
]

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
    - `added`: those of them that the case does not tell, added to it.
    - `doubled`: what is added and seems to be in the case's measures already.
    - `missing`: what stands as done and does not show in a case measured with it, with the keys of a case
      that would tell it.
    - `outdated`: what was felt last, where the case tells another rating.
    - `bought`: things counted as owned because they were bought [units].
    - `paid`: what was paid so far, as far as it was told; None where nobody said.
    - `refused`, `wanted`: what the plan from there was not to have, and had to.
    - `again`: the plan from there, of the case with what stands in it; see `follow_up_text`.
    """

    key: str
    before: Moment
    planned: Moment | None
    reached: Moment
    measured: bool
    steps: tuple[StepNow, ...]
    in_place: tuple[str, ...]
    added: tuple[str, ...]
    doubled: tuple[str, ...]
    missing: tuple[Shown, ...]
    outdated: tuple[Rating, ...]
    bought: dict[str, int]
    paid: Minor | None
    refused: tuple[str, ...]
    wanted: tuple[str, ...]
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
        return tuple(option.with_name for option in self.again.does_without)


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
    case = case_of_visit(visit)
    asked = list(dict.fromkeys(_as_planned(name, visit) for name in names))
    offers = _offers(case, [*case.in_place, *asked, *(one.name for one in person.done)], catalog, None)
    options: list[OptionSpec] = []
    for name in asked:
        options += select([name], offers, case, None, catalog.by_id, "FIX", entries.faults, standing=True)
    if state == "kept" and not entries.faults:
        _share_no_piece(person, options, case, offers, catalog, entries)
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


def paid_together(done: Sequence[StepDone], paid: Minor | None) -> list[StepDone]:
    """The same steps with one bill for all of them; it stands at the first."""
    if paid is None:
        return list(done)
    return [replace(done[0], paid=paid), *(replace(one, paid_with=done[0].name) for one in done[1:])]


def _as_planned(name: str, visit: Visit) -> str:
    """A name without a size as the last plan has it, where that has one step of it; any other as it is."""
    asked = parse_fix_name(name)
    if asked is None or asked.value is not None:
        return name
    found = [
        step.name
        for step in visit.steps
        if _base(step.name)[1] == asked.fix.lower()
        and (asked.prefix is None or _base(step.name)[0] == asked.prefix.lower())
    ]
    return found[0] if len(found) == 1 else name


def no_longer_wanted(person: PersonBook) -> list[str]:
    """What stood when the last plan was given, and that plan does without."""
    given = json.loads(person.visits[-1].plan).get("does_without", [])
    kept = {one.name for one in person.last_of_each().values() if one.state == "kept"}
    return [name for name in given if name in kept]


def _share_no_piece(
    person: PersonBook,
    options: Sequence[OptionSpec],
    case: Case,
    offers: Offers,
    catalog: Catalog,
    entries: Entries,
) -> None:
    """Refuse what takes an owned piece, as a book, that something else in place is made of."""
    new = {decision_of(one): one.with_name for one in options}
    before = {one.decision: one.name for one in person.last_of_each().values() if one.state == "kept"}
    stacks: dict[str, list[OptionSpec]] = {}
    for name in (before | new).values():
        parsed = parse_fix_name(name)
        stacks[name] = [] if parsed is None else matching(parsed, offers)
    made = {name: found for name, found in stacks.items() if any(_pieces(one) for one in found)}
    if _can_all_stand(list(made.values()), Counter(), owned_units(case)):
        return
    for name in new.values():
        if name in made:
            others = [other for other in made if other != name]
            entries.fault(
                "FIX",
                name,
                "what takes no piece that something else in place is made of",
                f"what is not there any more is told with --given-up: {', '.join(others)}" if others else "",
            )


def _pieces(option: OptionSpec) -> Counter[str]:
    return Counter({item: units for item, units in option.use.items() if ":" in item})


def _can_all_stand(groups: Sequence[Sequence[OptionSpec]], used: Counter[str], owned: Counter[str]) -> bool:
    """Whether one option of each group can be taken without any owned piece taken twice."""
    if not groups:
        return True
    tried = (used + _pieces(option) for option in groups[0])
    return any(
        all(units <= owned[item] for item, units in after.items())
        and _can_all_stand(groups[1:], after, owned)
        for after in tried
    )


def before_and_reached(found: Rechecked, catalog: Catalog, prices: PriceTable) -> Beside:
    """The first visit and now beside each other, with nobody's discomfort in either."""

    def plainly(moment: Moment) -> Assessment:
        case, names = moment.assessment.case, [one.with_name for one in moment.assessment.options]
        person = case.person.model_copy(update={"discomfort": Discomfort()})
        case = case.model_copy(update={"person": person, "in_place": ()})
        return assess(case, catalog, prices, names)

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
    told = case.model_copy(update={"in_place": ()})
    ever = [*case.in_place, *(one.name for one in person.done)]
    offers = _offers(told, ever, catalog, prices)
    word = person.last_of_each()
    names = [one.name for one in word.values() if one.state == "kept"]
    at_first = case_of_visit(first)
    offered_first = _offers(at_first, ever, catalog, prices)
    # a case measured with a thing in place may not offer it any more, so it is looked for as it was without
    known = _options(names, offered_first, at_first, catalog, prices, [])
    shown = {one.option.with_name: one for one in shown_in(at_first, told, known)}
    built_in = [one.option for one in shown.values() if one.where == "told"]
    there = [one.with_name for one in built_in]
    doubled = () if measured else tuple(there)
    missing = tuple(one for one in shown.values() if measured and one.where == "missing")
    not_added = {*(there if measured else ()), *(one.option.with_name for one in missing)}
    added = _options(
        [name for name in names if name not in not_added],
        offers,
        told,
        catalog,
        prices,
        warnings,
        quiet=doubled,
    )
    beside = _beside_the_book(case, word, offers, catalog, prices)
    every = _options(dict.fromkeys(one.name for one in person.done), offers, told, catalog, prices, [])
    bought, owned = _owning(told, prices, every, built_in if measured else ())
    standing = owned.model_copy(
        update={"in_place": (*(option.with_name for option in added), *beside)},
    )
    refused = [*never, *_not_again(person.done, word, every, offers, catalog.items)]
    again = plan(
        standing,
        catalog,
        prices,
        budget,
        minutes,
        must=must,
        never=tuple(dict.fromkeys(refused)),
        notes=notes,
    )
    paid = [one.paid for one in person.done if one.paid is not None and one.currency == prices.currency]
    return Rechecked(
        key=person.key,
        before=Moment(first.day, assess(case_of_visit(first), catalog, prices)),
        planned=_planned(last, catalog, prices, warnings),
        reached=Moment(day, assess(standing, catalog, prices)),
        measured=measured,
        steps=tuple(_steps_now(last, person.done, word)),
        in_place=tuple(name for name in names if name in there or name in (one.with_name for one in added)),
        added=standing.in_place,
        doubled=doubled,
        missing=missing,
        outdated=outdated_ratings(case, person),
        bought=bought,
        paid=sum(paid) if paid else None,
        refused=tuple(dict.fromkeys(refused)),
        wanted=tuple(must),
        again=again,
        felt=felt_changes(person.felt),
        warnings=tuple(dict.fromkeys([*warnings, *again.warnings])),
    )


def _offers(case: Case, names: Sequence[str], catalog: Catalog, prices: PriceTable | None) -> Offers:
    """All that a case could choose, with what people name in sizes between those of the catalog."""
    told = case.model_copy(update={"in_place": tuple(names)})
    return offers_for(told, state_of(case), catalog, prices, everything=True)


def follow_up_text(text: str, found: Rechecked) -> str:
    """A case file for the plan from there, written over the text of the case that was looked at again.

    What stands is told as in place, what was bought as owned, what was given up as refused: so `plan` and
    `report` come to the same plan. Raises `InputFaults` where the text is no case.
    """
    faults = FaultList("")
    tree = parse_tree(text, "", faults)
    faults.raise_if_any()
    if tree is None:
        raise DefectError("a case without content")
    root = tree.root
    case = found.again.case
    for item in found.bought:
        if not case.owns[item].pieces:
            root = with_value(root, ("owns", item), ScalarNode(str(case.owns[item].count), 0))
    wishes = {"must": found.wanted, "never": found.refused}
    for key, more in wishes.items():
        names = dict.fromkeys([*getattr(case.wishes, key), *more])
        if names:
            root = with_value(root, ("wishes", key), _names_node(names))
    root = without_value(root, ("in_place",))
    if found.added:
        root = with_value(root, ("in_place",), _names_node(found.added))
    if found.again.budget is not None and found.again.budget != case.means.budget:
        money = format_amount(found.again.budget, found.again.currency)
        root = with_value(root, ("means", "budget"), ScalarNode(money, 0))
    written = text_with(text, root)
    case_of_bytes(written.encode("utf-8"), "")
    return written


def _names_node(names: Iterable[str]) -> SequenceNode:
    return SequenceNode(tuple(ScalarNode(name, 0) for name in names), 0)


def _beside_the_book(
    case: Case, word: dict[str, StepDone], offers: Offers, catalog: Catalog, prices: PriceTable
) -> list[str]:
    """What a case tells as in place and the casebook has no word on."""
    found = _options(case.in_place, offers, case, catalog, prices, [])
    return [option.with_name for option in found if decision_of(option) not in word]


def _options(
    names: Iterable[str],
    offers: Offers,
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    warnings: list[str],
    quiet: Collection[str] = (),
) -> tuple[OptionSpec, ...]:
    """What names of the casebook stand for in a case; what it does not have any more is told, but `quiet`."""
    out: list[OptionSpec] = []
    for name in names:
        faults: list[Fault] = []
        out += select([name], offers, case, prices, catalog.by_id, "done", faults, standing=True)
        if faults and name not in quiet:
            told = tr("{fix} stands in the casebook, but not with this case: left out", fix=visible(name))
            warnings.append(told)
    # together they share what is owned, which tells apart stacks of equal height
    clashes: list[Fault] = []
    together = select([one.with_name for one in out], offers, case, prices, catalog.by_id, "done", clashes)
    return tuple(out) if clashes else together


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
    things: Mapping[str, CatalogItem],
) -> list[str]:
    """What is not to be planned: what was given up, and other sizes of what is cut or bought in one."""
    out = []
    last: dict[tuple[str, str], StepDone] = {_base(one.name): one for one in done}
    here = {key_of(option): option for option in every}
    for option in here.values():
        one = last[_base(option.with_name)]
        prefix = f"{option.owner[1]}." if option.owner[1] else ""
        if one.state == "given_up":
            out.append(prefix + option.fix.id)
        elif word[one.decision] is one and stays_in_size(option, things):
            out += [
                other.with_name
                for other in offers.options()
                if key_of(other) == key_of(option) and other.with_name.lower() != one.name.lower()
            ]
    return out


def _planned(last: Visit, catalog: Catalog, prices: PriceTable, warnings: list[str]) -> Moment | None:
    """The last plan on the case that it was made for, counted anew so that all three are counted alike."""
    case = case_of_visit(last)
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
