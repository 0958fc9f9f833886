"""Goals: the least money, then the least minutes, that brings a score or a strain down; or what hinders.

The scores of every posture of every task become nodes in the exact tables,
item by item, made of the same quantities that a report shows; combinations
above the goal are forbidden. Strain goals are side limits over the very tables
that make up the value. Nothing is rounded or approximated.

A limit on a node binds everything below it together, which makes exact search
wide. Where the limit says no more than limits on the parts would, as with the
greater of two scores, it is pushed down to them. Nothing is lost or added.

What a state makes of goals is scored here too, without the optimiser.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from math import prod
from typing import Any, Literal

import numpy as np

from deskmend.choice import Bound, Choice, Mask, Node, Problem, Table, solve
from deskmend.choice.problem import BoolArray
from deskmend.errors import DefectError, Fault, InputFaults, did_you_mean, option_fault
from deskmend.language import shown_number, tr
from deskmend.measures import MILLION, Micro, Minor, Minutes, format_amount
from deskmend.planning.model.model import Model, Term
from deskmend.planning.model.rules import Gate
from deskmend.planning.model.tables import AnyArray, Grid, GridBuilder
from deskmend.planning.score import PLAIN, Score, score
from deskmend.risk.ranges import NOT_SCORED
from deskmend.risk.scores.day import DayScores, ScoreMethod, method_named, methods, scores_of
from deskmend.risk.severity import REGIONS
from deskmend.workstation.state import State

__all__ = [
    "TOTAL",
    "BuiltGoal",
    "Goal",
    "Reach",
    "Unreached",
    "build_goals",
    "goals_of",
    "holding",
    "missed_goals",
    "pushed_down",
    "reach",
    "reached",
    "score_names",
    "split_goals",
    "with_goals",
]


MOST_CELLS = 50_000
"""Most cells of a limit while it is taken apart."""


def pushed_down(mask: Mask, builder: GridBuilder) -> list[Mask]:
    """Limits on parts that together allow exactly what a limit over decisions and nodes allows.

    The mask itself where it cannot be taken apart; none where it allows all that can occur.
    """
    nodes = {node.name: node for node in builder.nodes}
    done: list[Mask] = []
    waiting = [mask]
    while waiting:
        one = waiting.pop()
        parts = _taken_apart(one, nodes, builder)
        if parts is None:
            done.append(one)
        else:
            waiting += parts
    return done


def _taken_apart(mask: Mask, nodes: Mapping[str, Node], builder: GridBuilder) -> list[Mask] | None:
    """Limits over the parts of one node of a mask; None where no node can be taken apart."""
    for name in mask.scope:
        if name in nodes:
            parts = _without(mask, nodes[name], builder)
            if parts is not None:
                return parts
    return None


def _without(mask: Mask, node: Node, builder: GridBuilder) -> list[Mask] | None:
    rest = tuple(v for v in mask.scope if v != node.name)
    scope = (*rest, *(v for v in node.scope if v not in rest))
    sizes = tuple(builder.size(v) for v in scope)
    if prod(sizes) > MOST_CELLS:
        return None
    grid = np.ix_(*(np.arange(n) for n in sizes))
    at = dict(zip(scope, grid, strict=True))
    state = node.index[tuple(at[v] for v in node.scope)]
    allowed = mask.allowed[tuple(state if v == node.name else at[v] for v in mask.scope)]
    allowed = np.broadcast_to(allowed, sizes)
    found = builder.reach(scope)
    reached: BoolArray = np.ones(sizes, dtype=np.bool_) if found is None else found
    good = allowed & reached
    parts: list[Mask] = []
    together: BoolArray = np.ones(sizes, dtype=np.bool_)
    for v in node.scope:
        kept = tuple(w for w in scope if w in rest or w == v)
        away = tuple(k for k, w in enumerate(scope) if w not in kept)
        part = good.any(axis=away)
        together &= part.reshape(tuple(n if w in kept else 1 for w, n in zip(scope, sizes, strict=True)))
        possible = reached.any(axis=away)
        if bool(np.any(possible & ~part)):
            parts.append(Mask(kept, np.array(part | ~possible)))
    if bool(np.any(together & reached & ~allowed)):
        return None
    return parts


TOTAL = "strain"
"""Name of the goal for all regions together."""
MOST_STRAIN = 1000
"""Greatest strain taken as a goal [h/day]: more than any day can hold."""
OVER_EVERY_GOAL = 1_000_000
"""Takes the place of a score that cannot be given: such a state reaches no goal."""


def score_names() -> tuple[str, ...]:
    """Published scores that can be a goal."""
    return tuple(method.name for method in methods())


@dataclass(frozen=True)
class Goal:
    """A value to come down to: of a published score, of ``strain`` or of a region, by name.

    Strain is meant with the person's weights, as in ``by_region``.
    """

    name: str
    at_most: int | Micro

    @property
    def is_score(self) -> bool:
        """True for a published score, False for a strain."""
        return self.name in score_names()

    def written(self, value: int) -> str:
        """A value of this goal's kind as people write it: ``4``, or strain-hours as ``0.5``."""
        if self.is_score:
            return str(value)
        text = f"{Decimal(value) / MILLION:.6f}".rstrip("0")
        return text + "0" if text.endswith(".") else text

    @property
    def text(self) -> str:
        """As ``rosa=4``."""
        return f"{self.name}={self.written(self.at_most)}"


def goals_of(
    reach: Mapping[str, object] | Iterable[tuple[str, object]], where: str = "--reach"
) -> tuple[Goal, ...]:
    """Read goals, each once; `InputFaults` with every name that is none and every value out of range.

    A value is a whole number for a score; strain-hours a day with at most six decimals, as text, whole number
    or Decimal, for a strain. `where` says in messages what gave them.
    """
    names = (*score_names(), TOTAL, *REGIONS)
    out: list[Goal] = []
    faults: list[Fault] = []
    for name, value in reach.items() if isinstance(reach, Mapping) else reach:
        read = f"{name}={value}"
        if name not in names:
            allowed = f"SCORE=VALUE with one of {', '.join(names)}"
            faults.append(option_fault(where, read, allowed, did_you_mean(name, names)))
        elif name in (goal.name for goal in out):
            faults.append(option_fault(where, read, f"one value for {name}"))
        else:
            number, allowed = _at_most(name, value)
            if number is None:
                faults.append(option_fault(where, read, allowed))
            else:
                out.append(Goal(name, number))
    if faults:
        raise InputFaults(faults)
    return tuple(out)


def split_goals(texts: Iterable[str]) -> list[tuple[str, str]]:
    """Split ``SCORE=VALUE`` texts; one without a sign keeps an empty value, which `goals_of` refuses."""
    parts = [text.partition("=") for text in texts]
    return [(name.strip(), value.strip()) for name, _, value in parts]


def _at_most(name: str, value: object) -> tuple[int | None, str]:
    if is_score := name in score_names():
        method = method_named(name)
        low, high = method.low, method.high
        allowed = f"{name} a whole number {low} to {high}"
    else:
        low, high = 0, MOST_STRAIN
        allowed = f"{name} strain-hours a day, 0 to {high}, at most six decimals, as 0.5"
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal) or len(str(value)) > 30:
        return None, allowed
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return None, allowed
    if not number.is_finite() or not low <= number <= high:
        return None, allowed
    scaled = number if is_score else number * MILLION
    return (int(scaled), allowed) if scaled == int(scaled) else (None, allowed)


# --- in the exact model --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class BuiltGoal:
    """A goal with what it takes to hold it in a problem."""

    goal: Goal
    grids: tuple[Grid, ...] = ()
    """For a score: its value wherever it counts, else 0; each must keep to the goal."""
    tables: tuple[Table, ...] = ()
    """For a strain: what adds up to it."""
    fixed: Micro = 0
    """For a strain: the part that nothing on offer changes."""

    @property
    def levels(self) -> tuple[int, ...]:
        """Values that a score can take above the goal, rising; none for a strain."""
        found = {int(v) for grid in self.grids for v in np.unique(grid.values)}
        return tuple(sorted(v for v in found if self.goal.at_most < v < OVER_EVERY_GOAL))


def build_goals(model: Model, goals: Sequence[Goal]) -> tuple[BuiltGoal, ...]:
    """Build the tables of goals; nothing is added to a model that is asked for none."""
    out = []
    for goal in goals:
        if goal.is_score:
            out.append(BuiltGoal(goal, tuple(_distinct(_score_grids(model, goal.name)))))
        else:
            terms = [t for t in model.terms if goal.name in (TOTAL, t.region)]
            tables, fixed = _strain_tables(terms)
            out.append(BuiltGoal(goal, tables=tables, fixed=fixed))
    return tuple(out)


def _counted(here: AnyArray, in_mode: AnyArray, share: AnyArray, value: AnyArray) -> AnyArray:
    """A score where it counts, 0 where it does not, more than any goal where it cannot be given."""
    counts = np.asarray(here) & (np.asarray(in_mode) > 0) & (np.asarray(share) > 0)
    return np.where(counts, np.where(value == NOT_SCORED, OVER_EVERY_GOAL, value), 0)


def _score_grids(model: Model, name: str) -> Iterator[Grid]:
    """A score of every task at every place, wherever it counts."""
    for task in model.state.tasks:
        for place, gate in model.places_of(task):
            here = model.gate(gate)

            def apply(
                label: str, function: Callable[..., Any], arguments: list[Grid], at: str = f"{place}:{task}"
            ) -> Grid:
                return model.builder.apply(f"{at}:{label}", function, arguments)

            for one in method_named(name).occasions(model.evaluation(task, place), apply):
                yield apply(one.label, _counted, [here, *one.times, one.score])


def _distinct(grids: Iterable[Grid]) -> list[Grid]:
    return list({id(grid): grid for grid in grids}.values())


def _strain_tables(terms: Sequence[Term]) -> tuple[tuple[Table, ...], int]:
    groups: dict[tuple[Gate | None, tuple[str, ...]], AnyArray] = {}
    fixed = 0
    for term in terms:
        if term.gate is None and term.grid.is_constant:
            fixed += int(term.grid.values)
            continue
        key = (term.gate, term.grid.scope)
        groups[key] = term.grid.values + groups[key] if key in groups else term.grid.values
    tables = tuple(Table(scope, np.array(values), when=gate) for (gate, scope), values in groups.items())
    return tables, fixed


# --- the problem ---------------------------------------------------------------------------------


def with_goals(
    problem: Problem,
    model: Model,
    built: Sequence[BuiltGoal],
    levels: Mapping[str, int] | None = None,
    tables: Sequence[Table] = (),
    first: Literal["value", "cost"] = "cost",
) -> Problem | None:
    """Make of a problem of the model one that keeps to goals; None where one is missed whatever is chosen.

    `levels` are other values for some goals, by name. `tables` make up the value: none where only money and
    minutes matter, which keeps the problem small. `first` comes first in the order of preference.
    """
    masks = list(model.masks)
    bounds: list[Bound] = []
    for one in built:
        most = (levels or {}).get(one.goal.name, one.goal.at_most)
        if one.goal.is_score:
            for grid in one.grids:
                allowed = np.asarray(grid.values <= most)
                if not bool(np.any(allowed)):
                    return None
                if not bool(np.all(allowed)):
                    masks += pushed_down(Mask(grid.scope, np.array(allowed)), model.builder)
        else:
            if one.fixed > most:
                return None
            if one.tables:
                bounds.append(Bound(one.tables, most - one.fixed))
    counted = [*tables, *(table for bound in bounds for table in bound.tables)]
    nodes = _nodes_for(problem, model, [*(t.scope for t in counted), *(m.scope for m in masks)])
    scopes = dict.fromkeys((*(t.scope for t in counted), *(n.scope for n in nodes)))
    found = [(scope, model.builder.reach(scope)) for scope in scopes if len(scope) > 1]
    masks += [Mask(scope, reach, implied=True) for scope, reach in found if reach is not None]
    return replace(
        problem, tables=tuple(tables), masks=tuple(masks), bounds=tuple(bounds), nodes=nodes, first=first
    )


def _nodes_for(problem: Problem, model: Model, scopes: Iterable[tuple[str, ...]]) -> tuple[Node, ...]:
    """Nodes that scopes need, with the nodes those need."""
    wanted = {name for scope in (*scopes, *(tuple(f) for f in problem.forbidden)) for name in scope}
    for node in reversed(model.builder.nodes):
        if node.name in wanted:
            wanted.update(node.scope)
    return tuple(node for node in model.builder.nodes if node.name in wanted)


def reached(goal: Goal, strain: Score, scores: DayScores) -> int | None:
    """Value of a goal in a state, scored without the optimiser; None where it cannot be given.

    `strain` is with the person's weights.
    """
    if goal.name == TOTAL:
        return strain.total
    if not goal.is_score:
        return strain.by_region[goal.name]
    return scores.reached(goal.name)


def missed_goals(goals: Sequence[Goal], state: State, weights: Mapping[str, float]) -> list[str]:
    """Goals that were promised and that a state misses, scored again from plain numbers."""
    if not goals:
        return []
    strain, scores = score(state, weights), scores_of(state)
    out = []
    for goal in goals:
        value = reached(goal, strain, scores)
        if value is None or value > goal.at_most:
            shown = "nothing" if value is None else goal.written(value)
            out.append(f"{goal.text} was promised, {shown} scored again")
    return out


def holding(goal: Goal, state: State) -> str:
    """What keeps a score up, item by item, or the exposures that make most of a strain; may be empty."""
    if goal.is_score:
        return _score_holding(method_named(goal.name), scores_of(state))
    terms = [t for t in score(state, PLAIN).terms if goal.name in (TOTAL, t.region) and t.value]
    summed: dict[tuple[str, str], int] = {}
    for term in terms:
        key = (term.task, term.exposure)
        summed[key] = summed.get(key, 0) + term.value
    first = sorted(summed.items(), key=lambda pair: (-pair[1], pair[0]))[:MOST_TOLD]
    return "; ".join(f"{task}: {tr(exposure.replace('_', ' '))}" for (task, exposure), _ in first)


DOING = {"rest": "resting hands", "keys": "keys", "mouse": "mouse", "writing": "writing"}
SEEN = {"screen": "screen", "second": "second", "paper": "paper"}
MOST_TOLD = 3
"""Most exposures named as what keeps a strain up."""


def _score_holding(method: ScoreMethod, scores: DayScores) -> str:
    for task in scores.tasks:
        worst = task.worst(method.name)
        if worst is not None and worst.score == scores.score(method.name):
            told, roles = task.task, worst.roles
            if {"hand", "target"} <= roles.keys():
                doing, seen = tr(DOING[roles["hand"]]), tr(SEEN[roles["target"]])
                told = tr("{task}, {doing} and {seen}", task=told, doing=doing, seen=seen)
            return f"{told}: {'; '.join(item.reason for item in method.holding(worst))}"
    return "; ".join(scores.not_scored)


@dataclass(frozen=True)
class Unreached:
    """Goals that no choice within the limits reaches: what hinders, and what would help."""

    hinders: str
    would_help: str


@dataclass(frozen=True)
class Reach:
    """What a search for goals works on."""

    model: Model
    problem: Callable[[Minor | None, Minutes | None], Problem]
    """Gives the choice within money and minutes; None is no limit."""
    state_after: Callable[[Choice], State]
    currency: str
    seconds: float | None = None
    """Time one search may take [s]."""


def reach(
    search: Reach, goals: Sequence[Goal], money: Minor | None, minutes: Minutes | None
) -> Choice | Unreached:
    """Find the choice that reaches all goals together, within limits, for the least money, then minutes.

    A choice is proven cheapest, unless the time allowed ran out and it says so.
    """
    built = build_goals(search.model, goals)
    least = _cheapest(search, search.problem(money, minutes), built)
    if least is None:
        return _why_not(search, built, money, minutes)
    if not least.found:
        if least.status == "not_proven":
            return Unreached(
                tr("nothing that reaches the goal was found in the time allowed"), tr("allow more time")
            )
        return _why_not(search, built, money, minutes)
    # Nothing cheaper or quicker exists, so within just these limits the least strain may come first.
    tight = search.problem(least.cost, least.minutes)
    whole = with_goals(tight, search.model, built, tables=tight.tables, first="value")
    if whole is None:
        raise DefectError("a goal that was reached cannot be reached")
    choice = solve(whole, seconds=search.seconds)
    if least.proven and choice.found:
        return choice
    kept = choice if choice.found else least
    return replace(kept, proven=False, status="not_proven")


def _cheapest(
    search: Reach, base: Problem, built: Sequence[BuiltGoal], levels: Mapping[str, int] | None = None
) -> Choice | None:
    """Least money, then least minutes, that keeps to goals, strain left aside; None where nothing can.

    Little money is tried first: it leaves few options, so an answer or a proof that there is none comes
    quickly, and the first amount that suffices holds the cheapest answer of all.
    """
    limited = with_goals(base, search.model, built, levels)
    if limited is None:
        return None
    for money in _amounts(limited):
        choice = solve(replace(limited, money=money), seconds=search.seconds)
        if choice.found or not choice.proven:
            return choice
    return choice


def _amounts(problem: Problem) -> list[int | None]:
    """Amounts of money to try, rising to the limit: nothing, the least price, and so on by doubling."""
    prices = sorted(item.price for item in problem.items if item.price)
    most = problem.money if problem.money is not None else sum(prices)
    amounts: list[int | None] = [0]
    amount = prices[0] if prices else 0
    while 0 < amount < most:
        amounts.append(amount)
        amount *= 2
    return [*(a for a in amounts if a != problem.money), problem.money]


def _why_not(search: Reach, built: Sequence[BuiltGoal], money: int | None, minutes: int | None) -> Unreached:
    """What stands in the way: a must, the limits, one goal by itself, or the goals together."""
    base = search.problem(money, minutes)
    bare = _cheapest(search, base, ())
    if bare is None or not bare.found:
        return Unreached(
            tr("what must be in the plan does not keep to the limits"), tr("leave out one of the musts")
        )
    told = []
    for one in built:
        best = _best(search, base, one)
        if best is None:
            told.append(
                tr("{goal} is not reached, and nothing was proven in the time allowed", goal=one.goal.text)
            )
        elif best[0] > one.goal.at_most:
            told.append(_told(search, one, best))
    if not told:
        names = tr(" and ").join(one.goal.text for one in built)
        told.append(tr("{goals} are reached one by one within the limits, but not together", goals=names))
    return Unreached("; ".join(told), _would_help(search, built, money, minutes))


def _told(search: Reach, one: BuiltGoal, best: tuple[int, Choice]) -> str:
    goal = one.goal
    if not best[1].found:
        return tr("{goal} is not reached: no state on offer can be scored", goal=goal.text)
    after = search.state_after(best[1])
    why = holding(goal, after)
    text = tr(
        "{goal} is not reached: the least within the limits is {score} {value}",
        goal=goal.text,
        score=goal.name,
        value=shown_number(goal.written(best[0])),
    )
    return f"{text} ({why})" if why else text


def _best(search: Reach, base: Problem, one: BuiltGoal) -> tuple[int, Choice] | None:
    """Least value of one goal within the limits, with a choice that has it; None if nothing is proven."""
    if not one.goal.is_score:
        alone = with_goals(base, search.model, (), tables=one.tables, first="value")
        choice = solve(alone, seconds=search.seconds) if alone is not None else None
        if choice is None:
            return None
        return (choice.value + one.fixed, choice) if choice.found and choice.proven else None
    low, high = 0, len(one.levels)
    best: tuple[int, Choice] | None = None
    at_goal = _cheapest(search, base, [one])
    if at_goal is not None and at_goal.found:
        return one.goal.at_most, at_goal
    while low < high:
        middle = (low + high) // 2
        level = one.levels[middle]
        tried = _cheapest(search, base, [one], {one.goal.name: level})
        if tried is not None and tried.found:
            best, high = (level, tried), middle
        elif tried is not None and not tried.proven:
            return None
        else:
            low = middle + 1
    return best


def _would_help(search: Reach, built: Sequence[BuiltGoal], money: int | None, minutes: int | None) -> str:
    for told, more_money, more_minutes in (
        (tr("more money: {cost} and {minutes} minutes reach it"), None, minutes),
        (tr("more minutes: {cost} and {minutes} minutes reach it"), money, None),
        (tr("more money and minutes: {cost} and {minutes} minutes reach it"), None, None),
    ):
        if (more_money, more_minutes) == (money, minutes):
            continue
        choice = _cheapest(search, search.problem(more_money, more_minutes), built)
        if choice is not None and choice.found:
            cost = f"{shown_number(format_amount(choice.cost, search.currency))} {search.currency}"
            return told.format(cost=cost, minutes=choice.minutes)
    return tr("nothing on offer reaches it, whatever the money and the time: ask for a higher value")
