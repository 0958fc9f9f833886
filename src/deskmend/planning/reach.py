"""Reaching goals: the cheapest choice that does, or the best that can be had and what hinders.

What a state makes of goals is scored here too, without the optimiser.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from deskmend.choice import Choice, Problem, solve
from deskmend.errors import DefectError
from deskmend.language import shown_number, tr
from deskmend.measures import Minor, Minutes, format_amount
from deskmend.planning.goals import TOTAL, BuiltGoal, Goal, build_goals, with_goals
from deskmend.planning.model.model import Model
from deskmend.planning.score import PLAIN, Score, score
from deskmend.risk.scores.day import DayScores, ScoreMethod, method_named, scores_of
from deskmend.workstation.state import State

__all__ = ["Reach", "Unreached", "holding", "missed_goals", "reach", "reached"]


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
