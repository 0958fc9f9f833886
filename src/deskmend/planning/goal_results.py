"""What a state makes of goals, scored without the optimiser, and what keeps a goal from being reached."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from deskmend.messages import tr
from deskmend.planning.goals import TOTAL, Goal
from deskmend.planning.score import PLAIN, Score, score
from deskmend.risk.posture_scores import DayScores, scores_of
from deskmend.workstation.state import State

__all__ = ["holding", "missed_goals", "reached"]


def reached(goal: Goal, strain: Score, scores: DayScores) -> int | None:
    """Value of a goal in a state, scored without the optimiser; None where it cannot be given.

    Parameters
    ----------
    goal : Goal
        The goal.
    strain : Score
        With the person's weights.
    scores : DayScores
        Published scores.
    """
    if goal.name == TOTAL:
        return strain.total
    if not goal.is_score:
        return strain.by_region[goal.name]
    if scores_missing(goal, scores):
        return None
    return (scores.rula if goal.name == "rula" else scores.rosa) or 0


def scores_missing(goal: Goal, scores: DayScores) -> bool:
    """Whether some posture or seated task has no score, so that no goal can be said to be reached."""
    if goal.name == "rula":
        return any(posture.score is None for task in scores.tasks for posture in task.postures)
    return any(task.rosa_detail is not None and task.rosa_detail.score is None for task in scores.tasks)


def missed_goals(goals: Iterable[Goal], state: State, weights: Mapping[str, float]) -> list[str]:
    """Goals that a state misses, scored again from plain numbers.

    Parameters
    ----------
    goals : iterable of Goal
        What was promised.
    state : State
        After the plan.
    weights : mapping
        Region weight by region [-].
    """
    strain, scores = score(state, weights), scores_of(state)
    out = []
    for goal in goals:
        value = reached(goal, strain, scores)
        if value is None or value > goal.at_most:
            shown = "nothing" if value is None else goal.written(value)
            out.append(f"{goal.text} was promised, {shown} scored again")
    return out


def holding(goal: Goal, state: State) -> str:
    """What keeps a score up, item by item, or the exposures that make most of a strain.

    Parameters
    ----------
    goal : Goal
        The goal that is missed.
    state : State
        The best state found.

    Returns
    -------
    str
        Reasons, separated by semicolons; empty where there is nothing to tell.
    """
    if goal.name == "rula":
        return _rula_holding(scores_of(state))
    if goal.name == "rosa":
        return _rosa_holding(scores_of(state))
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


def _rula_holding(scores: DayScores) -> str:
    worst = [task for task in scores.tasks if task.rula == scores.rula and task.worst is not None]
    if not worst or worst[0].worst is None:
        return "; ".join(scores.not_scored)
    posture = worst[0].worst
    doing, seen = tr(DOING[posture.hand]), tr(SEEN[posture.target])
    items = [i.reason for i in posture.items if i.score is not None and i.score > _LEAST.get(i.item, 1)]
    told = tr("{task}, {doing} and {seen}", task=worst[0].task, doing=doing, seen=seen)
    return f"{told}: {'; '.join(items)}"


_LEAST = {"muscle_use": 0, "force": 0}


def _rosa_holding(scores: DayScores) -> str:
    worst = [task for task in scores.tasks if task.rosa == scores.rosa and task.rosa_detail is not None]
    if not worst or worst[0].rosa_detail is None:
        return "; ".join(scores.not_scored)
    items = [i.reason for i in worst[0].rosa_detail.leading if i.score is not None and i.score > 0]
    return f"{worst[0].task}: " + "; ".join(items)
