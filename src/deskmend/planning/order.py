"""The order of a plan's fixes, and what may happen with its steps.

It keeps to every rule of the catalog at each step: nothing is ever done that its neighbours would make unsafe
on that day.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import get_args

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import SetupStage, WatchFor
from deskmend.intake.prices import PriceTable
from deskmend.measures import Micro, Minor, Minutes
from deskmend.planning.bill import Taking, bill_of, cheapest_packs, minutes_of, takings
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.rules import concerns
from deskmend.planning.score import score
from deskmend.planning.selection import sound_states, state_with
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import State

__all__ = [
    "OrderedStep",
    "Outcomes",
    "Reserve",
    "best_next",
    "in_set_up_order",
    "put_in_order",
    "reserves_of",
]

SETUP_STAGES: tuple[str, ...] = get_args(SetupStage)
"""Set-up order within a day: how furniture stands in the room, seat, feet, back, desk, then the rest."""
FURNITURE = SETUP_STAGES[: SETUP_STAGES.index("desk") + 1]
"""Stages that all later ones are measured against."""
LARGEST_BUNDLE = 3
"""Most fixes that are looked for to make one more possible."""


@dataclass(frozen=True)
class OrderedStep:
    """One step of a plan.

    - `cost`: what it adds to the bill; things shared are charged to the first.
    - `takes`: what it takes; what is owned is promised to one step alone.
    - `strain_after`: strain once it is done.
    - `stage`: number of the stage from which on it stays as it is, from 0.
    """

    option: OptionSpec
    cost: Minor
    minutes: Minutes
    takes: tuple[Taking, ...]
    strain_after: Micro
    before: State
    after: State
    stage: int = 0


Strains = Callable[[Sequence[Sequence[OptionSpec]]], Sequence[Micro]]
"""Strain that each of some sets of fixes leaves."""


class Outcomes:
    """States and strains that sets of fixes of one case lead to, each worked out once.

    `strains` tells those of sets that are asked about together; None: each is scored for itself.
    """

    def __init__(self, state: State, weights: dict[str, float], strains: Strains | None = None) -> None:
        self.before, self._weights = state, weights
        self._strains_of = strains
        self._states: dict[frozenset[int], State] = {}
        self._strains: dict[frozenset[int], Micro] = {}
        self._sound: dict[frozenset[int], bool] = {}

    def sound(self, options: Collection[OptionSpec]) -> bool:
        """Whether no rule is broken with some fixes."""
        self.judge([options])
        return self._sound[frozenset(id(option) for option in options)]

    def judge(self, plans: Iterable[Collection[OptionSpec]]) -> None:
        """Hold at once against the rules what will be asked about, which takes far less than one by one."""
        waiting = {frozenset(id(option) for option in plan): tuple(plan) for plan in plans}
        fresh = {key: plan for key, plan in waiting.items() if key not in self._sound}
        found = sound_states(self.before, list(fresh.values()))
        self._sound |= {key: after is not None for key, after in zip(fresh, found, strict=True)}

    def of(self, options: Collection[OptionSpec]) -> tuple[State, Micro]:
        """The state with some fixes of the case's own offers, and its strain."""
        return self._state(options), self.strain(options)

    def strain(self, options: Collection[OptionSpec]) -> Micro:
        """The strain alone."""
        self.know([options])
        return self._strains[frozenset(id(option) for option in options)]

    def know(self, plans: Iterable[Collection[OptionSpec]]) -> None:
        """Score at once what will be asked about, which takes far less than one by one."""
        waiting = {frozenset(id(option) for option in plan): tuple(plan) for plan in plans}
        fresh = {key: plan for key, plan in waiting.items() if key not in self._strains}
        if self._strains_of is None:
            self._strains |= {
                key: score(self._state(plan), self._weights).total for key, plan in fresh.items()
            }
        elif fresh:
            self._strains |= zip(fresh, self._strains_of(list(fresh.values())), strict=True)

    def _state(self, options: Collection[OptionSpec]) -> State:
        key = frozenset(id(option) for option in options)
        if key not in self._states:
            self._states[key] = state_with(self.before, options)
        return self._states[key]


def in_set_up_order(options: Iterable[OptionSpec]) -> tuple[OptionSpec, ...]:
    """Fixes in the order of setting up in a day, as `SETUP_STAGES`, and what another builds on before it."""
    left = sorted(options, key=_set_up)
    out: list[OptionSpec] = []
    while left:
        now = [option for option in left if option.fix.stage == left[0].fix.stage]
        out.append(_ready(now)[0])
        left.remove(out[-1])
    return tuple(out)


def best_next(
    changes: Sequence[OptionSpec],
    now: Micro,
    strain: Callable[[OptionSpec], Micro],
    sound: Callable[[OptionSpec], bool],
) -> OptionSpec:
    """Which of some changes, in set-up order, is made next: the first that is allowed and adds no strain.

    Seats and desks may change places with each other for that; what is measured against them still waits for
    all of them. Where each adds strain for now, the one that adds least is made. `now` is the strain before.
    """
    first = [change for change in changes if change.fix.stage in FURNITURE] or list(changes)
    ready = _ready(first)
    allowed = [one for one in ready if sound(one)]
    if not allowed:
        return ready[0]
    return next((one for one in allowed if strain(one) <= now), None) or min(allowed, key=strain)


def _set_up(option: OptionSpec) -> tuple[int, bool, str]:
    # A whole seat or a place is changed before anything is laid on it.
    stays = all(effect.change in FIELDS for effect in option.fix.effects)
    return SETUP_STAGES.index(option.fix.stage), stays, option.with_name


def _ready(options: Sequence[OptionSpec]) -> Sequence[OptionSpec]:
    """Those that build on none of the others; all, where each builds on some."""
    return [one for one in options if not _waits([one], options)] or options


def _waits(group: Sequence[OptionSpec], rest: Sequence[OptionSpec]) -> bool:
    """Whether some of a group builds on what is still to come: done now, it would be done again."""
    later = [option for option in rest if option not in group]
    return any(_builds_on(one, other) for one in group for other in later)


def _builds_on(one: OptionSpec, other: OptionSpec) -> bool:
    """Whether what one needs, adds to or lays its hands on is changed by the other."""
    if one.fix.stage == "arms" and other.fix.stage == "keyboard":
        # Hands and forearms find their place once keyboard and mouse are there.
        return one.owner[0] != other.owner[0] or one.owner == other.owner
    if one.owner != other.owner:
        return False
    if _changes(one, "mouse") and _changes(other, "keyboard"):
        # A mouse is laid beside the keyboard, so that has to lie there.
        return True
    added_to = {effect.change for effect in one.fix.effects if effect.set is None}
    return any(effect.change in one.fix.needed | added_to for effect in other.fix.effects)


def _changes(option: OptionSpec, field: str) -> bool:
    return any(effect.change == field for effect in option.fix.effects)


def put_in_order(
    options: Sequence[OptionSpec],
    case: Case,
    prices: PriceTable,
    outcomes: Outcomes,
    by_stage: Mapping[int, Sequence[OptionSpec]] | None = None,
    first: Sequence[OptionSpec] = (),
) -> tuple[OrderedStep, ...]:
    """Order of a plan's fixes, given in catalog order.

    `by_stage` holds the same fixes by the stage from which on each stays, earliest first; without it there is
    one. What is done `first` stands before all of its stage.

    Costs and minutes of the steps add up to the plan's, and the last strain is the plan's.
    """
    sorter = _Sorter(case, prices, outcomes)
    stages = []
    for stage, group in ({0: options} if by_stage is None else by_stage).items():
        early = [option for option in group if option in first]
        sorter.done += in_set_up_order(early)
        sorter.run([option for option in group if option not in early])
        stages += [stage] * len(group)
    steps = []
    taken = takings(sorter.done, case)
    for number, (option, stage, takes) in enumerate(zip(sorter.done, stages, taken, strict=True)):
        until, since = sorter.done[:number], sorter.done[: number + 1]
        steps.append(
            OrderedStep(
                option,
                sorter.cost(since) - sorter.cost(until),
                minutes_of(since) - minutes_of(until),
                takes,
                sorter.strain(since),
                sorter.outcomes.of(until)[0],
                sorter.outcomes.of(since)[0],
                stage,
            )
        )
    return tuple(steps)


class _Sorter:
    """Puts fixes into `done` one after the other."""

    def __init__(self, case: Case, prices: PriceTable, outcomes: Outcomes) -> None:
        self.case, self.prices, self.outcomes = case, prices, outcomes
        self.done: list[OptionSpec] = []
        self.strain = outcomes.strain

    def cost(self, options: Sequence[OptionSpec]) -> Minor:
        return bill_of(options, self.case, self.prices).total

    def sound(self, *more: OptionSpec) -> bool:
        """Whether no rule is broken with some fixes beside those done."""
        return self.outcomes.sound([*self.done, *more])

    def run(self, options: Sequence[OptionSpec]) -> None:
        rest = list(options)
        while rest:
            free = self._free_help(rest)
            if free is not None:
                group = [free]
            else:
                # where only many together are sound there is no bundle; then set-up order goes on
                group = self._one_by_one(self._best_bundle(rest) or (min(rest, key=_set_up),))
            self.done += group
            rest = [option for option in rest if option not in group]

    def _free_help(self, rest: Sequence[OptionSpec]) -> OptionSpec | None:
        """A free fix that helps now, in set-up order; one that only prepares others waits for them."""
        cost, strain = self.cost(self.done), self.strain(self.done)
        free = [
            option
            for option in sorted(rest, key=_set_up)
            if self.cost([*self.done, option]) <= cost and not _waits([option], rest)
        ]
        self.outcomes.judge([*self.done, option] for option in free)
        free = [option for option in free if self.sound(option)]
        self.outcomes.know([*self.done, option] for option in free)
        return next((option for option in free if self.strain([*self.done, option]) < strain), None)

    def _best_bundle(self, rest: Sequence[OptionSpec]) -> tuple[OptionSpec, ...]:
        """The few fixes that take most strain off per money, with the free ones they make possible.

        Of equals the smallest, then the first in catalog order; none where no few are sound.
        """
        strain, cost = self.strain(self.done), self.cost(self.done)
        groups = [
            group
            for size in range(1, min(LARGEST_BUNDLE, len(rest)) + 1)
            for group in combinations(rest, size)
            if not _waits(group, rest)
        ]
        self.outcomes.judge([*self.done, *group] for group in groups)
        groups = [group for group in groups if self.sound(*group)]
        self.outcomes.know([*self.done, *group] for group in groups)

        def rate(group: tuple[OptionSpec, ...]) -> Fraction:
            now = [*self.done, *group]
            return Fraction(strain - self.strain(now), max(self.cost(now) - cost, 1))

        return max(groups, key=rate, default=())

    def _one_by_one(self, group: Sequence[OptionSpec]) -> list[OptionSpec]:
        """A bundle in an order in which every step is sound, set-up order where there is a choice."""
        out: list[OptionSpec] = []
        left = sorted(group, key=_set_up)
        while left:
            following = next((option for option in left if self.sound(*out, option)), left[0])
            out.append(following)
            left.remove(following)
        return out


@dataclass(frozen=True)
class Reserve:
    """Advice for what may happen, with what it would cost then."""

    option: OptionSpec
    watch: WatchFor
    cost: Minor | None


def reserves_of(steps: Sequence[OrderedStep], after: State, case: Case, prices: PriceTable) -> list[Reserve]:
    """Advice for what may happen with the steps of a plan; what the plan holds anyway needs none."""
    chosen = {item for step in steps for item in step.option.use}
    return [
        Reserve(step.option, watch, _reserve_cost(watch, case, prices))
        for step in steps
        for watch in step.option.fix.watch
        if (watch.item is None or watch.item not in chosen)
        and concerns(watch, step.option.owner, after, len(step.option.pieces))
    ]


def _reserve_cost(watch: WatchFor, case: Case, prices: PriceTable) -> Minor | None:
    """Cost of what would be bought then; None where it is not to be had."""
    if watch.item is None:
        return 0
    owned = case.owns.get(watch.item)
    need = watch.quantity - (owned.count if owned else 0)
    if need <= 0:
        return 0
    priced = prices.items.get(watch.item)
    packs = cheapest_packs(priced, need) if priced else None
    return packs[1] if packs else None
