"""The order of a plan's fixes: needs met first, free things first, then most strain removed per money.

This is the plain order. It keeps to every rule of the catalog at each step:
nothing is ever done that its neighbours would make unsafe on that day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import get_args

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import SetupStage
from deskmend.intake.prices import PriceTable
from deskmend.planning.bill import Bill, bill_of
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.rules import breaches
from deskmend.planning.score import score
from deskmend.planning.selection import state_with
from deskmend.workstation.state import State

__all__ = ["OrderedStep", "in_set_up_order", "put_in_order"]

STAGES: tuple[str, ...] = get_args(SetupStage)
"""Set-up order within a day: seat, feet, back, desk, keyboard, screen, paper, light, phone, habits."""
LARGEST_BUNDLE = 3
"""Most fixes that are looked for to make one more possible."""


@dataclass(frozen=True)
class OrderedStep:
    """One step.

    Attributes
    ----------
    option : OptionSpec
        What is done.
    cost : int
        What it adds to the bill; things shared are charged to the first [minor units].
    minutes : int
        What it adds to the work [min].
    strain_after : int
        Strain once it is done [millionths of h/day].
    before, after : State
        State before and after it.
    day : int
        Day from which it stays; 0 is today [days].
    """

    option: OptionSpec
    cost: int
    minutes: int
    strain_after: int
    before: State
    after: State
    day: int = 0


class _Sorter:
    def __init__(self, state: State, case: Case, prices: PriceTable, weights: dict[str, float]) -> None:
        self.state, self.case, self.prices, self.weights = state, case, prices, weights
        self.done: list[OptionSpec] = []
        self._strain: dict[frozenset[int], int] = {}

    def strain(self, options: Sequence[OptionSpec]) -> int:
        key = frozenset(id(option) for option in options)
        if key not in self._strain:
            self._strain[key] = score(state_with(self.state, options), self.weights).total
        return self._strain[key]

    def bill(self, options: Sequence[OptionSpec]) -> Bill:
        return bill_of(options, self.case, self.prices)

    def sound(self, options: Sequence[OptionSpec]) -> bool:
        after = state_with(self.state, options)
        return not breaches(self.state, after, [(o.fix, o.owner) for o in options])

    def free_first(self, rest: list[OptionSpec]) -> bool:
        """Do one free fix that helps now, in set-up order; one that only prepares others waits for them."""
        total, strain = self.bill(self.done).total, self.strain(self.done)
        for option in sorted(rest, key=_stage):
            now = [*self.done, option]
            if self.bill(now).total <= total and self.strain(now) < strain and self.sound(now):
                self._do(option, rest)
                return True
        return False

    def bundle(self, rest: list[OptionSpec]) -> tuple[OptionSpec, ...] | None:
        """The few fixes that take most strain off per money, with the free ones they make possible."""
        base, spent = self.strain(self.done), self.bill(self.done).total
        best: tuple[Fraction, int, tuple[OptionSpec, ...]] | None = None
        for size in range(1, min(LARGEST_BUNDLE, len(rest)) + 1):
            for number, group in enumerate(combinations(rest, size)):
                if not self.sound([*self.done, *group]):
                    continue
                cost = self.bill([*self.done, *group]).total - spent
                gain = base - self.strain([*self.done, *group])
                rate = Fraction(gain, max(cost, 1))
                rank = (rate, -size * 10_000 - number, group)
                if best is None or rank[:2] > best[:2]:
                    best = rank
        return best[2] if best is not None else None

    def _do(self, option: OptionSpec, rest: list[OptionSpec]) -> None:
        self.done.append(option)
        rest.remove(option)

    def run(self, options: Sequence[OptionSpec]) -> None:
        rest = list(options)
        while rest:
            if self.free_first(rest):
                continue
            group = self.bundle(rest) or (min(rest, key=_stage),)
            for option in self._within(group):
                self._do(option, rest)

    def _within(self, group: tuple[OptionSpec, ...]) -> list[OptionSpec]:
        """A bundle in an order in which every step is sound, set-up order where there is a choice."""
        out: list[OptionSpec] = []
        left = sorted(group, key=_stage)
        while left:
            sound = [o for o in left if self.sound([*self.done, *out, o])]
            out.append((sound or left)[0])
            left.remove(out[-1])
        return out


def _stage(option: OptionSpec) -> tuple[int, str]:
    return STAGES.index(option.fix.stage), option.with_name


def in_set_up_order(options: Iterable[OptionSpec]) -> tuple[OptionSpec, ...]:
    """Fixes in the order of setting up within a day: seat, feet, back, desk, keyboard, screen, paper, light.

    Parameters
    ----------
    options : iterable of OptionSpec
        Any fixes.
    """
    return tuple(sorted(options, key=_stage))


def put_in_order(
    options: Sequence[OptionSpec],
    state: State,
    case: Case,
    prices: PriceTable,
    weights: dict[str, float],
    dated: Mapping[int, Sequence[OptionSpec]] | None = None,
) -> tuple[OrderedStep, ...]:
    """Order of a plan's fixes.

    Parameters
    ----------
    options : sequence of OptionSpec
        The plan's fixes, in catalog order.
    state : State
        Before any of them.
    case : Case
        For what is owned.
    prices : PriceTable
        What things cost.
    weights : dict
        Region weights [-].
    dated : mapping, optional
        The same fixes by the day they are done on, earliest first; all on one day if left out.

    Returns
    -------
    tuple of OrderedStep
        Costs and minutes add up to the plan's; the last strain is the plan's.
    """
    sorter = _Sorter(state, case, prices, weights)
    days = []
    for day, group in ({0: options} if dated is None else dated).items():
        sorter.run(group)
        days += [day] * len(group)
    steps = []
    carried: set[str] = set()
    for number, option in enumerate(sorter.done):
        until, since = sorter.done[:number], sorter.done[: number + 1]
        again = option.fix.carried and option.fix.id in carried
        carried.add(option.fix.id)
        steps.append(
            OrderedStep(
                option,
                sorter.bill(since).total - sorter.bill(until).total,
                0 if again else option.fix.minutes,
                sorter.strain(since),
                state_with(state, until),
                state_with(state, since),
                days[number],
            )
        )
    return tuple(steps)
