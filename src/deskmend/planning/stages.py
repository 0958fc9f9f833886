"""A plan as a row of whole arrangements: today, with each purchase, and as the work gets on.

Each stage is exactly best with what is there by then, nothing more bought, and keeps every rule by itself.
Among arrangements that leave equally little strain the one is taken that leaves least to be undone; and what
the next stage would undo or set anew is not done where what it takes off until then cannot be told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from deskmend.choice import Choice, Problem, Table, evaluate, solve
from deskmend.choice.problem import LARGEST_TOTAL, part_of
from deskmend.errors import DefectError
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.bill import BillLine, Taking, bill_of, takings
from deskmend.planning.frontier import Reoptimizer
from deskmend.planning.model.offers import KEEP, OptionSpec
from deskmend.planning.order import best_next, in_set_up_order, put_in_order
from deskmend.planning.plan_check import verify_plan
from deskmend.planning.ready_case import ReadyCase
from deskmend.planning.selection import FixKey, decision_of, key_of
from deskmend.workstation.state import State

__all__ = [
    "DAYS_A_WEEK",
    "LeastUndone",
    "Stage",
    "StageChange",
    "Supply",
    "at_work",
    "by_stage",
    "least_left",
    "stages_of",
    "useful_supplies",
    "with_bought",
]

DAYS_A_WEEK = 7


@dataclass(frozen=True)
class Supply:
    """What is there from a day on.

    - `day`: from 0, which is today.
    - `bought`: all that is bought by then.
    - `minutes`: work that can be done by then; None: no limit.
    """

    day: int
    bought: tuple[BillLine, ...]
    minutes: Minutes | None


@dataclass(frozen=True)
class StageChange:
    """One thing that is done for a stage: it comes in, is set anew, or is undone.

    - `before`, `after`: the fix as it was and as it is then; None: it was not there, or no longer is.
    - `state_before`, `state_after`: without and with it, what stands above it done.
    - `takes`: what it takes then; what is owned is promised to one step of a stage alone.
    - `strain_after`: strain once it is done.
    - `may_stay`: of what is no longer in use, that it could stay to the end: it adds no strain, breaks
      no rule and takes nothing that is wanted elsewhere.
    """

    before: OptionSpec | None
    after: OptionSpec | None
    takes: tuple[Taking, ...]
    state_before: State
    state_after: State
    strain_after: Micro
    may_stay: bool = False

    @property
    def option(self) -> OptionSpec:
        """The fix as it is then, or the one undone."""
        option = self.after or self.before
        if option is None:
            raise ValueError("a change of nothing")
        return option


@dataclass(frozen=True, kw_only=True)
class Stage:
    """A whole arrangement, and what is there for it.

    - `day`: day from which on it stands, from 0, which is today.
    - `buys`: what is bought for it, beside what the stage before has.
    - `spent`: money spent up to then.
    - `kept`: what is bought by then and not used in it, with the part of `spent` that is for it.
    - `options`: everything in use, in catalog order.
    - `changes`: what is done for it, in order.
    - `minutes`: work that all of it takes.
    """

    day: int
    buys: tuple[BillLine, ...]
    spent: Minor
    kept: tuple[BillLine, ...]
    options: tuple[OptionSpec, ...]
    changes: tuple[StageChange, ...]
    state: State
    strain: Micro
    minutes: Minutes

    @property
    def is_today(self) -> bool:
        """Whether it is there before anything is bought or a day has gone."""
        return not self.day and not self.buys


def by_stage(stages: Sequence[Stage]) -> Mapping[int, tuple[OptionSpec, ...]]:
    """The last stage's fixes by the number of the stage from which on each stays as it is then."""
    out: dict[int, list[OptionSpec]] = {}
    for option in stages[-1].options:
        first = len(stages) - 1
        while first and option in stages[first - 1].options:
            first -= 1
        out.setdefault(first, []).append(option)
    return {number: tuple(out[number]) for number in sorted(out)}


# --- what is there by when ------------------------------------------------------------------------


def with_bought(problem: Problem, bought: Sequence[BillLine], minutes: Minutes | None) -> Problem:
    """The choice where some purchases are made, and there is no money for more."""
    packs = {line.item: line.packs for line in bought}
    items = tuple(
        replace(item, owned=item.owned + packs[item.name] * item.pack) if item.name in packs else item
        for item in problem.items
    )
    return part_of(problem, items=items, money=0, minutes=minutes)


def at_work(
    bought: Sequence[BillLine], minutes: Minutes | None, per_week: Minutes | None, work: Minutes
) -> list[Supply]:
    """What is there where all is bought in one go: today nothing of it, then all of it, then week by week.

    `minutes` and `per_week` limit the work in all and a week; `work` is what the plan takes.
    """

    def made(weeks: int) -> Minutes | None:
        if not per_week:
            return minutes
        return per_week * weeks if minutes is None else min(per_week * weeks, minutes)

    whole = tuple(bought)
    out = [Supply(0, (), made(1)), *([Supply(0, whole, made(1))] if whole else [])]
    weeks = -(-work // per_week) if per_week else 1
    return [*out, *(Supply(week * DAYS_A_WEEK, whole, made(week + 1)) for week in range(1, weeks))]


def useful_supplies(supplies: Sequence[Supply], strain: Callable[[Supply], Micro]) -> list[Supply]:
    """Leave out what only brings more time that takes nothing off: the arrangement before serves on.

    `strain` is what is left at best with what is there.
    """
    out: list[Supply] = []
    last: Micro | None = None
    for supply in supplies:
        left = strain(supply)
        if not out or supply.bought != out[-1].bought or left != last:
            out.append(supply)
        last = left
    return out


# --- the arrangements -----------------------------------------------------------------------------


def stages_of(
    ready: ReadyCase,
    supplies: Sequence[Supply],
    last: Choice,
    *,
    dated: bool = False,
    every_gain: bool = False,
) -> tuple[Stage, ...]:
    """Stages of a plan, one for each supply that changes anything; the last is the plan itself.

    With `dated` purchases stay at their days. Else a thing is bought when it is first used, and what a later
    stage does again is not undone in between only because its time would serve better elsewhere. With
    `every_gain` each stage leaves the least strain by itself, however little that is worth doing twice.

    Every one is scored and priced again without the optimiser. Raises DefectError where one does not hold.
    """
    arranged = _Arranged(ready, every_gain)
    choices = [last]
    for supply in reversed(supplies[:-1]):
        choices.append(arranged.before(supply, choices[-1].options))
    choices.reverse()
    if not dated:
        _keep_what_returns(arranged, supplies, choices)
    _never_worse(ready, supplies, choices)
    if not dated:
        supplies, choices = _when_used(ready, supplies, choices)
    out: list[Stage] = []
    holds = [(ready.options_of(choice), supply) for choice, supply in zip(choices, supplies, strict=True)]
    for number, (supply, choice) in enumerate(zip(supplies, choices, strict=True)):
        before = supplies[number - 1].bought if number else ()
        had = out[-1].options if out else ready.in_place or None
        out.append(_checked(ready, supply, choice, before, had, holds[number:]))
    return tuple(out)


@dataclass(frozen=True)
class _Arranged:
    """Arranges stages from the last to the first."""

    ready: ReadyCase
    every_gain: bool

    def before(
        self, supply: Supply, following: Mapping[str, str], keep: Mapping[str, FixKey] | None = None
    ) -> Choice:
        """The best arrangement before a stage, without what is done twice for less than can be told.

        One decision after the other is left as it is or set as the next stage has it, that first by which
        least is lost, as long as less is undone and what stays cannot be told from the best.
        """
        least = LeastUndone(self.ready, supply, following, keep)
        best = least.best()
        if best is None:
            raise DefectError("nothing can be done with what is there, not even to leave all as it is")
        chosen, lasting = best, frozenset[str]()
        while not self.every_gain:
            undone = self._undone(chosen, following)
            found = [
                (other.value, decision, other)
                for decision in undone
                if (other := least.best(lasting | {decision}))
                and len(self._undone(other, following)) < len(undone)
                and not self._distinguishable(best, other)
            ]
            if not found:
                break
            _, decision, chosen = min(found, key=lambda one: one[:2])
            lasting |= {decision}
        return chosen

    def _distinguishable(self, one: Choice, other: Choice) -> bool:
        return self.ready.noise.distinguishable(self.ready.options_of(one), self.ready.options_of(other))

    def _undone(self, choice: Choice, following: Mapping[str, str]) -> list[str]:
        """Decisions of which the next stage does not have what is done here."""
        names = [offer.name for offer in self.ready.offers.decisions]
        return [name for name in names if choice.options[name] not in (KEEP, following[name])]


def _never_worse(ready: ReadyCase, supplies: Sequence[Supply], choices: list[Choice]) -> None:
    """Take the best itself for stages that would leave more than the one before only to spare work."""
    for number in range(1, len(choices) - 1):
        if choices[number].value > choices[number - 1].value:
            best = LeastUndone(ready, supplies[number], choices[number + 1].options).best()
            choices[number] = best or choices[number]


def _keep_what_returns(arranged: _Arranged, supplies: Sequence[Supply], choices: list[Choice]) -> None:
    """Choose stages anew that drop a fix which the stage before has and a later one has again.

    Nothing is left worse than by the stage before: its arrangement could simply stay.
    """
    ready = arranged.ready
    for number in range(1, len(choices) - 1):
        had = _by_decision(ready, choices[number - 1])
        later = [_by_decision(ready, choice) for choice in choices[number + 1 :]]
        keep: dict[str, FixKey] = {}
        while True:
            has = _by_decision(ready, choices[number])
            dropped = {
                decision: key
                for decision, key in had.items()
                if has.get(decision) != key and any(one.get(decision) == key for one in later)
            }
            if not dropped:
                break
            keep |= dropped
            choices[number] = arranged.before(supplies[number], choices[number + 1].options, keep)


def _by_decision(ready: ReadyCase, choice: Choice) -> dict[str, FixKey]:
    return {decision_of(option): key_of(option) for option in ready.options_of(choice)}


def _when_used(
    ready: ReadyCase, supplies: Sequence[Supply], choices: Sequence[Choice]
) -> tuple[list[Supply], list[Choice]]:
    """Buy each thing for the first stage that uses any of it; leave out stages that then change nothing."""
    kept: list[tuple[Supply, Choice]] = []
    had: set[str] = set()
    for supply, choice in zip(supplies, choices, strict=True):
        had |= {line.item for line in bill_of(ready.options_of(choice), ready.case, ready.prices).lines}
        now = replace(supply, bought=tuple(line for line in supply.bought if line.item in had))
        if kept and (kept[-1][0].day, kept[-1][0].bought) == (now.day, now.bought):
            kept.pop()
        if kept and kept[-1][0].bought == now.bought and kept[-1][1].options == choice.options:
            continue
        kept.append((now, choice))
    return [supply for supply, _ in kept], [choice for _, choice in kept]


class LeastUndone:
    """Arrangements that leave least strain with what is there, then least to be undone for the next.

    What is undone is an option taken here that the next stage, {decision: option name}, does not take as it
    is. Of equals come least minutes, fewest fixes, catalog order, as everywhere: what takes nothing off is
    not done early only because the next stage does it. `keep` are fixes, by decision, that must be in it at
    some size.
    """

    def __init__(
        self,
        ready: ReadyCase,
        supply: Supply,
        following: Mapping[str, str],
        keep: Mapping[str, FixKey] | None = None,
    ) -> None:
        self._ready = ready
        problem = with_bought(ready.problem(0, None), supply.bought, supply.minutes)
        problem = _without_dear_musts(ready, problem)
        decisions = [offer.name for offer in ready.offers.decisions]
        # what the problem leaves out beforehand needs no forbidding, and may not be named
        there = {(one.name, option.name) for one in problem.decisions for option in one.options}
        others = [
            {offer.name: name}
            for offer in ready.offers.decisions
            if keep and offer.name in keep
            for name in (KEEP, *(one.name for one in offer.options if key_of(one) != keep[offer.name]))
            if (offer.name, name) in there
        ]
        scale = len(decisions) + 1
        # the strain counts first: all that can be undone together weighs less than a millionth
        tables = [part_of(table, values=table.values * scale) for table in problem.tables]
        most = sum(int(np.abs(table.values).max(initial=0)) for table in tables)
        if most + scale >= LARGEST_TOTAL:
            raise DefectError("strain too large to compare what is undone beside it")
        self._done_otherwise: dict[str, list[str]] = {}
        for decision in problem.decisions:
            if decision.name in decisions:
                kept = (KEEP, following[decision.name])
                undone = [option.name not in kept for option in decision.options]
                tables.append(Table((decision.name,), np.array(undone, dtype=np.int64)))
                names = [one.name for one, gone in zip(decision.options, undone, strict=True) if gone]
                self._done_otherwise[decision.name] = names
        forbidden = (*problem.forbidden, *others)
        self._asked = Reoptimizer(part_of(problem, tables=tuple(tables), forbidden=forbidden))
        self._whole = ready.problem(None, None)

    def best(self, lasting: Collection[str] = ()) -> Choice | None:
        """The best of them; None where there is none.

        Decisions that are `lasting` are left as they are or set as the next stage has them.
        """
        otherwise = self._done_otherwise
        found = self._asked.best({name: otherwise[name] for name in lasting if otherwise.get(name)})
        if not found.found:
            return None
        figures = evaluate(self._whole, found.options).figures
        return replace(found, figures=figures, bound=figures.value)


def least_left(ready: ReadyCase, supply: Supply) -> Micro:
    """Least strain with what is there."""
    problem = with_bought(ready.problem(0, None), supply.bought, supply.minutes)
    return solve(_without_dear_musts(ready, problem)).value + ready.fixed_strain


def _without_dear_musts(ready: ReadyCase, problem: Problem) -> Problem:
    """The same without the musts that cannot be had yet: those wait for their money.

    Until then what they settle is as free as without them.
    """
    if not ready.wanted or solve(problem).found:
        return problem
    base = replace(problem, forbidden=ready.base.forbidden)
    kept: list[tuple[dict[str, str | int], ...]] = []
    for must in ready.wanted:
        kept += [must] if solve(ready.with_musts(base, [*kept, must])).found else []
    return ready.with_musts(base, kept)


def _checked(
    ready: ReadyCase,
    supply: Supply,
    choice: Choice,
    before: Sequence[BillLine],
    had: Sequence[OptionSpec] | None,
    later: Sequence[tuple[Sequence[OptionSpec], Supply]],
) -> Stage:
    spent = sum(line.cost for line in supply.bought)
    after, _, bill = verify_plan(ready, choice, spent, supply.minutes)
    options = ready.options_of(choice)
    return Stage(
        day=supply.day,
        buys=_beyond(supply.bought, before),
        spent=spent,
        kept=_beyond(supply.bought, bill.lines),
        options=options,
        changes=_set_up(ready, options) if had is None else _changes(ready, had, later),
        state=after,
        strain=choice.value + ready.fixed_strain,
        minutes=choice.minutes,
    )


def _set_up(ready: ReadyCase, options: Sequence[OptionSpec]) -> tuple[StageChange, ...]:
    steps = put_in_order(options, ready.case, ready.prices, ready.outcomes)
    return tuple(
        StageChange(None, step.option, step.takes, step.before, step.after, step.strain_after)
        for step in steps
    )


def _changes(
    ready: ReadyCase,
    had: Sequence[OptionSpec],
    later: Sequence[tuple[Sequence[OptionSpec], Supply]],
) -> tuple[StageChange, ...]:
    """What is undone, then what comes or is set anew, each when it can be done and makes nothing worse.

    `later` are the arrangements from this stage on to the last. What is only no longer needed comes last.
    """
    has, supply = later[0]
    now = {key_of(option): option for option in had}
    then = {key_of(option): option for option in has}
    gone = [option for key, option in now.items() if key not in then]
    idle = [option for option in gone if _may_stay(ready, option, later)]
    come = [option for key, option in then.items() if key not in now or now[key].name != option.name]
    kept = [option for option in has if option not in come]
    come = list(in_set_up_order(come))
    out: list[StageChange] = []
    outcomes = ready.outcomes
    state, strain = outcomes.of(now.values())

    def make(option: OptionSpec, stays: bool) -> None:
        nonlocal state, strain
        before = now.pop(key_of(option), None)
        if stays:
            now[key_of(option)] = option
        after, left = outcomes.of(now.values())
        change = StageChange(before, option if stays else None, (), state, after, left, option in idle)
        out.append(change)
        state, strain = after, left

    def with_it(option: OptionSpec) -> list[OptionSpec]:
        return list((now | {key_of(option): option}).values())

    def to_be_done(option: OptionSpec) -> bool:
        return _can_be(ready, with_it(option), supply)

    def strain_with(option: OptionSpec) -> Micro:
        return outcomes.strain(with_it(option))

    for option in gone:
        if option not in idle:
            make(option, False)
    while come:
        outcomes.judge(map(with_it, come))
        option = best_next(come, strain, strain_with, to_be_done)
        come.remove(option)
        make(option, True)
    for option in idle:
        make(option, False)
    order = [*kept, *(change.after for change in out if change.after is not None)]
    takes = dict(zip(map(key_of, order), takings(order, ready.case), strict=True))
    return tuple(replace(one, takes=takes.get(key_of(one.option), ())) for one in out)


def _can_be(ready: ReadyCase, options: Sequence[OptionSpec], supply: Supply) -> bool:
    """Whether fixes keep every rule together, and what is there by then suffices for them."""
    if not ready.outcomes.sound(options):
        return False
    bill = bill_of(options, ready.case, ready.prices)
    had = {line.item: line.packs for line in supply.bought}
    return not bill.missing and all(line.packs <= had.get(line.item, 0) for line in bill.lines)


def _may_stay(
    ready: ReadyCase,
    option: OptionSpec,
    later: Sequence[tuple[Sequence[OptionSpec], Supply]],
) -> bool:
    """Whether something no longer in use could stay to the end and leave no more strain."""
    for has, supply in later:
        if option in has:
            continue  # it is counted again, as where there was no time for it beside the work of a week
        if option.fix.carried and any(one.fix.id == option.fix.id for one in has):
            # there is one of it, and it is taken along
            return False
        beside = [*has, option]
        if not _can_be(ready, beside, supply) or ready.outcomes.strain(beside) > ready.outcomes.strain(has):
            return False
    return True


def _beyond(lines: Sequence[BillLine], others: Sequence[BillLine]) -> tuple[BillLine, ...]:
    """Packs, and their cost, by which one list goes beyond another that it holds."""
    packs: Counter[str] = Counter()
    cost: Counter[str] = Counter()
    for sign, part in ((1, lines), (-1, others)):
        for line in part:
            packs[line.item] += sign * line.packs
            cost[line.item] += sign * line.cost
    more = (BillLine(item, packs[item], cost[item]) for item in packs)
    return tuple(line for line in more if line.packs or line.cost)
