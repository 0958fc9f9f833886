"""How sure a plan is: it is made again for many worlds that the measures, prices and limits may stand for.

Two things are asked. In how many samples each fix stays, with everything off at once; and what each measure
does when it alone is off: whether other fixes are best then, and what keeping to the plan would cost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import sha256
from typing import Any, Literal

from deskmend.choice import Choice, Problem, solve
from deskmend.choice.stock import WarmStart
from deskmend.errors import InputFaults
from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.prices import PriceTable
from deskmend.measures import Micro, Minor, Minutes, Mm
from deskmend.planning.bill import bill_of
from deskmend.planning.budgets import EveryBudget
from deskmend.planning.draws import (
    ALL_ERRORS,
    Errors,
    Sample,
    UncertainLength,
    case_with,
    draw,
    state_with_body,
    uncertain_lengths,
)
from deskmend.planning.inputs import fitting_faults
from deskmend.planning.model.cohorts import Member, items_of, problems_together
from deskmend.planning.model.offers import KEEP, Offers, OptionSpec, offers_for
from deskmend.planning.ready_case import NoPlan, ReadyCase, prepare, standing_case
from deskmend.planning.score import score, weights_of
from deskmend.planning.selection import FixKey, key_of, sound_state
from deskmend.processes import Processes
from deskmend.progress import tell_progress
from deskmend.risk.severity import moved_curves
from deskmend.workstation.state import Owner, State, state_of

__all__ = ["AtEnd", "Flip", "KeptPlan", "MeasureEffect", "Sure", "SureFix", "fingerprint", "sure_of"]

DEFAULT_SEED = 1
"""Where chance begins unless somebody asks for another beginning."""
WORLDS_TOGETHER = 12
"""Worlds whose tables are filled at once: more take less time each, and more memory. For no more than these
other processes take longer to start than they save."""
AS_PLANNED, RESIZED, IMPOSSIBLE = "as_planned", "other_sizes", "not_possible"


@dataclass(frozen=True)
class KeptPlan:
    """The plan as it is, kept to where something else is true.

    - `how`: ``as_planned``: with the same sizes; ``other_sizes``: the same fixes, at the sizes that are best
      there, where the planned ones are not allowed; ``not_possible``: not even so.
    - `strain`: what it leaves; None where it is not possible.
    """

    how: str
    strain: Micro | None


@dataclass(frozen=True)
class AtEnd:
    """The best plan with one measure at one of its ends.

    - `strain`: what the best plan leaves there; None where there is no plan.
    - `kept`: the plan as it is, there.
    - `enters`, `leaves`: fixes that only the best plan there, and only that of the case as it stands, holds.
    """

    value: Mm
    strain: Micro | None
    kept: KeptPlan
    enters: tuple[FixKey, ...]
    leaves: tuple[FixKey, ...]

    @property
    def flips(self) -> bool:
        """Whether other fixes are best there."""
        return bool(self.enters or self.leaves)

    @property
    def regret(self) -> Micro | None:
        """Strain lost by keeping to the plan; None where it cannot be kept to."""
        if self.strain is None or self.kept.strain is None:
            return None
        return self.kept.strain - self.strain


@dataclass(frozen=True)
class MeasureEffect:
    """What it does when one measure alone is off as far as it may be.

    - `ends`: below, then above; an end that the measure cannot reach is left out.
    - `already`: strain that the plan leaves more than the best one where the measure holds.
    """

    measure: UncertainLength
    ends: tuple[AtEnd, ...]
    already: Micro = 0

    @property
    def flips(self) -> bool:
        """Whether other fixes are best at one of its ends."""
        return any(end.flips for end in self.ends)

    @property
    def worst(self) -> AtEnd:
        """End at which most is lost by keeping to the plan."""
        return max(self.ends, key=lambda end: (end.regret is None, end.regret or 0, end.flips))

    @property
    def stake(self) -> tuple[bool, Micro]:
        """How much hangs on it: whether the plan may not be possible at all, then what is lost at most.

        Without what is lost already where the measure holds.
        """
        regrets = [end.regret for end in self.ends]
        return None in regrets, max((0, *(one - self.already for one in regrets if one is not None)))


@dataclass(frozen=True)
class Flip:
    """Neighbouring whole millimetres off: the best fixes stay at the first and are others at the second."""

    stays_at: Mm
    flips_at: Mm


@dataclass(frozen=True)
class SureFix:
    """In how many samples a fix is part of the best plan.

    - `planned`: as the plan holds it; None where it does not.
    - `stays`: samples that hold it, at any size.
    - `sizes`: samples that hold it, by what ``assess --with`` takes, the most frequent first.
    """

    fix: Fix
    owner: Owner
    planned: OptionSpec | None
    stays: int
    sizes: tuple[tuple[str, int], ...]


@dataclass(frozen=True, kw_only=True)
class Sure:
    """How sure the fixes of a plan are.

    - `samples`, `seed`: how often it was planned again, and where chance began.
    - `without_plan`: samples in which nothing keeps to the limits.
    - `same_fixes`: samples with just the fixes of the plan, at any sizes.
    - `errors`: what was taken to be uncertain.
    - `fixes`: those of the plan, in its order, then the others that came up, the most frequent first.
    - `measures`: what each measure does when it alone is off, those with most at stake first.
    - `again`: the measure that is most worth taking again; None where keeping to the plan loses nothing,
      whichever single one is off.
    - `flip`: where it changes the fixes; None where only sizes are others.
    """

    samples: int
    seed: int
    without_plan: int
    same_fixes: int
    errors: Errors
    fixes: tuple[SureFix, ...]
    measures: tuple[MeasureEffect, ...]
    again: MeasureEffect | None
    flip: Flip | None


def sure_of(
    case: Case,
    catalog: Catalog,
    prices: PriceTable,
    money: Minor | None,
    minutes: Minutes | None,
    samples: int,
    seed: int = DEFAULT_SEED,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    errors: Errors = ALL_ERRORS,
    plan: Sequence[OptionSpec] | None = None,
    every: EveryBudget | None = None,
    processes: int = 1,
) -> Sure:
    """Plan again for worlds that the given figures may stand for, and count what stays.

    - `case`, `catalog`, `prices`: what is planned from; prices with the ends of what they may cost.
    - `money`, `minutes`: limits, the same for every sample.
    - `samples`: how many.
    - `seed`: the same seed gives the same answer on every machine.
    - `must`, `never`: fixes that have to be, and must not be, in every plan.
    - `errors`: what is uncertain, and how much.
    - `plan`: what the plan asked about takes; the best one within the limits if left out.
    - `every`: the plans of the same case, wishes and minutes, where others ask for them too.
    - `processes`: how many work on it, for the same answer. More than one import the main module again, so
      that a script needs its guard.
    - raises `ValueError`: fewer than one sample, or a negative seed.
    - raises `NoPlan`: nothing keeps to the limits as the case stands.
    - raises `InputFaults`: a wish cannot be understood.
    """
    if samples < 1 or seed < 0:
        raise ValueError(f"samples from 1 and seed from 0 are allowed, read {samples} and {seed}")
    if every is None:
        every = EveryBudget(prepare(case, catalog, prices, must, never), minutes)
    best = every.within(money)[-1]
    options = best.options if plan is None else tuple(plan)
    planner = _Replanner(
        _Kept(
            case,
            catalog,
            prices,
            money,
            minutes,
            tuple(must),
            tuple(never),
            errors,
            seed,
            options,
            best.options,
            best.choice.options,
        )
    )
    lengths = uncertain_lengths(case, errors)
    ends = sum(len(_ends_of(length)) for length in lengths)
    with closing(_Workers(planner, samples + ends, processes)) as workers:
        found_ends = iter(workers.ask([("ends", part) for part in workers.parts(ends)]))
        already = planner.already(every.ready, best.strain)
        effects = [
            MeasureEffect(length, tuple(next(found_ends) for _ in _ends_of(length)), already)
            for length in lengths
        ]
        effects.sort(
            key=lambda e: (not e.flips, *(-int(part) for part in e.stake), e.measure.path[0] != "person")
        )
        again = next((e for e in effects if e.flips and any(e.stake) and e.measure.can_be_taken), None)
        flips = [] if again is None else [again]
        found = workers.ask([*flips, *(("samples", part) for part in workers.parts(samples))])
    flip = found.pop(0) if flips else None
    found_best = [plan for plan in found if plan is not None]
    return Sure(
        samples=samples,
        seed=seed,
        without_plan=samples - len(found_best),
        same_fixes=sum(_keys(plan) == _keys(options) for plan in found_best),
        errors=errors,
        fixes=_counts(options, found_best),
        measures=tuple(effects),
        again=again,
        flip=flip,
    )


def _ends_of(length: UncertainLength) -> tuple[int, ...]:
    """How far a measure may be off, below and above; an end that it cannot reach is left out."""
    return (*[-length.down] * bool(length.down), *[length.up] * bool(length.up))


def _keys(options: Sequence[OptionSpec]) -> frozenset[FixKey]:
    """Fixes of a plan, sizes aside."""
    return frozenset(key_of(option) for option in options)


def _counts(options: Sequence[OptionSpec], plans: Sequence[Sequence[OptionSpec]]) -> tuple[SureFix, ...]:
    """Count in how many plans each fix stands, and at which sizes."""
    planned = {key_of(option): option for option in options}
    fixes = {key_of(option): option.fix for plan in (options, *plans) for option in plan}
    stays = Counter(key_of(option) for plan in plans for option in plan)
    sizes: dict[FixKey, Counter[str]] = {key: Counter() for key in fixes}
    for plan in plans:
        for option in plan:
            sizes[key_of(option)][option.with_name] += 1
    others = sorted((key for key in fixes if key not in planned), key=lambda key: (-stays[key], key))
    return tuple(
        SureFix(
            fixes[key],
            key[1],
            planned.get(key),
            stays[key],
            tuple(sorted(sizes[key].items(), key=lambda pair: (-pair[1], pair[0]))),
        )
        for key in (*planned, *others)
    )


@dataclass(frozen=True)
class _World:
    """What may be true, made ready for planning: its problem is within the limits."""

    case: Case
    state: State
    prices: PriceTable
    offers: Offers
    weights: dict[str, float]
    problem: Problem
    fixed_strain: Micro


@dataclass(frozen=True)
class _Kept:
    """What stays where something else is true: wishes, limits, and plans held against what is best there.

    - `options`: what the plan asked about takes.
    - `best`: what the best plan of the case as it stands takes, `start` as the problem names it.
    """

    case: Case
    catalog: Catalog
    prices: PriceTable
    money: Minor | None
    minutes: Minutes | None
    must: tuple[str, ...]
    never: tuple[str, ...]
    errors: Errors
    seed: int
    options: tuple[OptionSpec, ...]
    best: tuple[OptionSpec, ...]
    start: Mapping[str, str]


Query = tuple[Literal["ends", "samples"], range] | MeasureEffect
"""Some of all ends of measures, some samples, by number; or where an effect changes the fixes."""


class _Workers:
    """Whoever plans again, this process or others, with word of how many of all worlds are done."""

    def __init__(self, here: _Replanner, worlds: int, processes: int) -> None:
        self._here = here
        self._worlds, self._done = worlds, 0
        self._others: Processes | None = None
        if processes > 1 and worlds > WORLDS_TOGETHER:
            self._others = Processes(processes, _replanning, here.kept)

    def parts(self, count: int) -> list[range]:
        """Numbers up to a count in parts that are worked out together, as many for each process."""
        each = 1 if self._others is None else self._others.count
        parts = min(count, -(-count // (WORLDS_TOGETHER * each)) * each)
        return [range(count * k // parts, count * (k + 1) // parts) for k in range(parts)]

    def ask(self, questions: Sequence[Query]) -> list[Any]:
        """Answers to all that is asked, one after the other."""
        if self._others is None:
            return [self._told(one) for asked in questions for one in self._here.answers(asked)]
        found: dict[int, list[Any]] = {}
        for place, answers in self._others.answers(list(enumerate(questions))):
            found[place] = [self._told(one) for one in answers]
        return [one for place in range(len(questions)) for one in found[place]]

    def _told(self, answer: Any) -> Any:
        if not isinstance(answer, Flip):
            self._done += 1
            tell_progress(self._done, self._worlds)
        return answer

    def close(self) -> None:
        """End other processes."""
        if self._others is not None:
            self._others.close()


def _replanning(kept: _Kept) -> Callable[[Query], list[Any]]:
    planner = _Replanner(kept)
    return lambda asked: list(planner.answers(asked))


class _Replanner:
    """Plans a case anew within the same wishes and limits where something else is true."""

    def __init__(self, kept: _Kept) -> None:
        self.kept = kept
        self._known: dict[bytes, Choice] = {}
        self._warm_start = WarmStart(starts=(kept.start,))

    @cached_property
    def _lengths(self) -> tuple[UncertainLength, ...]:
        return uncertain_lengths(self.kept.case, self.kept.errors)

    def answers(self, asked: Query) -> Iterator[Any]:
        """What is best at each end and in each sample asked about, or where the fixes change."""
        if isinstance(asked, MeasureEffect):
            yield self._flip(asked)
            return
        what, numbers = asked
        if what == "samples":
            kept = self.kept
            drawn = [
                draw(kept.case, kept.prices, self._lengths, kept.errors, kept.seed, number)
                for number in numbers
            ]
            yield from map(self._again, self._worlds(drawn))
        else:
            ends = [(length, off) for length in self._lengths for off in _ends_of(length)]
            ends = ends[numbers.start : numbers.stop]
            worlds = self._worlds([self._told(length, off) for length, off in ends])
            for (length, off), world in zip(ends, worlds, strict=True):
                yield self._at(length, off, world)

    def already(self, ready: ReadyCase, best: Micro) -> Micro:
        """Strain that the plan leaves more than the best one in the case as it stands; 0: not possible."""
        kept = self._kept_plan(self._within_limits(ready)).strain
        return 0 if kept is None else kept - best

    def _within_limits(self, ready: ReadyCase) -> _World:
        return _World(
            ready.case,
            ready.state,
            ready.prices,
            ready.offers,
            ready.weights,
            ready.problem(self.kept.money, self.kept.minutes),
            ready.fixed_strain,
        )

    def _solved(self, problem: Problem) -> Choice:
        """Give the best choice within the limits; none is worked out twice."""
        mark = fingerprint(problem)
        if mark not in self._known:
            choice = solve(problem, warm_start=self._warm_start)
            self._known[mark] = choice
            if choice.found and choice.options not in self._warm_start.starts:
                self._warm_start.starts = (*self._warm_start.starts, choice.options)
        return self._known[mark]

    def _worlds(self, told: Sequence[Sample]) -> Iterator[_World | None]:
        """Make ready where something else is true; None where there is no plan.

        Tables are filled for some at once. Wishes are for the model of one world alone.
        """
        if self.kept.must or self.kept.never or self.kept.case.wishes.must or self.kept.case.wishes.never:
            yield from map(self._alone, told)
            return
        for start in range(0, len(told), WORLDS_TOGETHER):
            some = told[start : start + WORLDS_TOGETHER]
            members = [self._member(one) for one in some]
            found = iter(problems_together([one for one in members if one is not None], self.kept.prices))
            for member, one in zip(members, some, strict=True):
                problem = None if member is None else next(found)
                if member is None or problem is None:
                    yield None
                else:
                    yield self._in_world(member, one.prices, *problem)

    def _alone(self, told: Sample) -> _World | None:
        try:
            with moved_curves(told.curves):
                return self._within_limits(
                    prepare(
                        told.case, self.kept.catalog, told.prices, self.kept.must, self.kept.never, told.state
                    )
                )
        except (NoPlan, InputFaults):  # what must be in the plan may not be on offer there
            return None

    def _member(self, told: Sample) -> Member | None:
        """A world as one of many that are modelled together; None where the case has faults there."""
        with moved_curves(told.curves):
            faults = fitting_faults(told.case, self.kept.catalog)
            case = standing_case(told.case, told.state, self.kept.catalog, faults)
            if faults:
                return None
            offers = offers_for(case, told.state, self.kept.catalog, told.prices)
            return Member(case, told.state, offers, weights_of(case), told.curves)

    def _in_world(self, member: Member, prices: PriceTable, base: Problem, fixed: Micro) -> _World:
        items = items_of(base.decisions, member.case, prices)
        problem = replace(base, items=items, money=self.kept.money, minutes=self.kept.minutes)
        there = {one.name: {option.name for option in one.options} for one in base.decisions}
        closed = {
            offer.name: [one.name for one in offer.options if one.name not in there.get(offer.name, ())]
            for offer in member.offers.decisions
        }
        offers = member.offers.without(closed)
        return _World(member.case, member.state, prices, offers, dict(member.weights), problem, fixed)

    def _again(self, world: _World | None) -> tuple[OptionSpec, ...] | None:
        """What the best plan of a world takes; None where there is none."""
        choice = None if world is None else self._solved(world.problem)
        return world.offers.taken(choice.options) if world and choice and choice.found else None

    def _told(self, length: UncertainLength, off: int) -> Sample:
        """What is true with a measure off by so much [mm]."""
        value, case = length.at(off), self.kept.case
        if length.estimated:
            state = state_with_body(state_of(case), {str(length.path[-1]): value})
        else:
            case = case_with(case, {length.path: value})
            state = state_of(case)
        return Sample(case, state, self.kept.prices, {})

    def _at(self, length: UncertainLength, off: int, world: _World | None) -> AtEnd:
        """Plan in the world with a measure off by so much [mm]."""
        value, ours = length.at(off), _keys(self.kept.best)
        choice = None if world is None else self._solved(world.problem)
        if world is None or choice is None or not choice.found:
            return AtEnd(value, None, KeptPlan(IMPOSSIBLE, None), (), tuple(sorted(ours)))
        there = _keys(world.offers.taken(choice.options))
        return AtEnd(
            value,
            choice.value + world.fixed_strain,
            self._kept_plan(world),
            tuple(sorted(there - ours)),
            tuple(sorted(ours - there)),
        )

    def _kept_plan(self, world: _World) -> KeptPlan:
        """Keep to the plan where another state is true."""
        strain = self._strain_as_planned(world)
        if strain is not None:
            return KeptPlan(AS_PLANNED, strain)
        ours, problem = _keys(self.kept.options), world.problem
        if not ours <= _keys(list(world.offers.options())):
            return KeptPlan(IMPOSSIBLE, None)
        forbidden: list[dict[str, str | int]] = []
        there = {one.name: [option.name for option in one.options] for one in problem.decisions}
        for offer in world.offers.decisions:
            kept = [option.name for option in offer.options if key_of(option) in ours]
            names = there.get(offer.name, ())
            forbidden += [{offer.name: name} for name in names if name not in (kept or [KEEP])]
        choice = solve(
            replace(problem, forbidden=(*problem.forbidden, *forbidden)), warm_start=self._warm_start
        )
        if not choice.found:
            return KeptPlan(IMPOSSIBLE, None)
        return KeptPlan(RESIZED, choice.value + world.fixed_strain)

    def _strain_as_planned(self, world: _World) -> Micro | None:
        """Strain that these very options leave; None where one is not offered, or rule or money forbid."""
        offered = {(option.name, option.owner): option for option in world.offers.options()}
        same = [offered.get((option.name, option.owner)) for option in self.kept.options]
        options = [option for option in same if option is not None]
        if len(options) < len(same):
            return None
        bill = bill_of(options, world.case, world.prices)
        if bill.missing or (self.kept.money is not None and bill.total > self.kept.money):
            return None
        after = sound_state(world.state, options)
        return None if after is None else score(after, world.weights).total

    def _flip(self, effect: MeasureEffect) -> Flip | None:
        """Find where the fixes change, by halving, towards the worst end if they do there, else the other."""
        length = effect.measure
        ends = sorted(effect.ends, key=lambda end: end is not effect.worst)
        offs = [round(end.value - length.value) for end in ends if end.flips]
        if not offs:
            return None
        stays, flips = 0, offs[0]
        while abs(flips - stays) > 1:
            middle = (stays + flips) // 2
            if self._at(length, middle, *self._worlds([self._told(length, middle)])).flips:
                flips = middle
            else:
                stays = middle
        return Flip(length.at(stays), length.at(flips))


def fingerprint(problem: Problem) -> bytes:
    """Digest of a problem without side limits; two with the same one have the same best choice."""
    plain = (
        problem.decisions,
        problem.items,
        problem.forbidden,
        problem.money,
        problem.minutes,
        problem.first,
        problem.bounds,
    )
    digest = sha256(repr(plain).encode())
    for table in problem.tables:
        digest.update(repr((table.scope, table.when, table.values.shape, table.values.dtype.str)).encode())
        digest.update(table.values.tobytes())
    for node in problem.nodes:
        digest.update(repr((node.name, node.scope, node.size, node.index.shape)).encode())
        digest.update(node.index.tobytes())
    for mask in problem.masks:
        digest.update(repr((mask.scope, mask.implied, mask.allowed.shape)).encode())
        digest.update(mask.allowed.tobytes())
    return digest.digest()
