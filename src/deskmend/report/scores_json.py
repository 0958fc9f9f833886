"""Published scores in documents for programs."""

from __future__ import annotations

from typing import Any

from deskmend.planning.assessment import Assessment
from deskmend.planning.goal_results import reached
from deskmend.planning.plan import Plan
from deskmend.report.numbers import quantity_json, strain_json
from deskmend.risk.posture_scores import ItemScore, RosaTask, RulaPosture, TaskScores
from deskmend.risk.standard_classes import ClassHours, ClassReading

__all__ = ["assessment_scores", "plan_scores"]

Document = dict[str, Any]


def assessment_scores(assessment: Assessment) -> Document:
    """Scores of an assessment.

    Parameters
    ----------
    assessment : Assessment
        The assessment.

    Returns
    -------
    dict
        ``rula`` and ``rosa`` of the worst task [-], with the fixes; None where they cannot be given.
    """
    scores, now = assessment.scores, assessment.scores_now
    return {
        "rula": scores.rula,
        "rosa": scores.rosa,
        "rula_mean": quantity_json(scores.rula_mean),
        "rosa_mean": quantity_json(scores.rosa_mean),
        "without_fixes": {"rula": now.rula, "rosa": now.rosa},
        "tasks": {task.task: _task(task) for task in scores.tasks},
        "classes": [_class(one) for one in scores.classes],
        "class_hours": [_hours(one) for one in scores.hours],
        "not_scored": list(scores.not_scored),
    }


def plan_scores(plan: Plan) -> Document:
    """Scores before and after a plan, and its goals.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict
        ``rula`` and ``rosa`` with ``before`` and ``after`` of the worst task [-].
    """
    before, after = plan.scores_before, plan.scores_after
    return {
        "rula": _pair(before.rula, after.rula)
        | {"mean_before": quantity_json(before.rula_mean), "mean_after": quantity_json(after.rula_mean)},
        "rosa": _pair(before.rosa, after.rosa)
        | {"mean_before": quantity_json(before.rosa_mean), "mean_after": quantity_json(after.rosa_mean)},
        "tasks": {
            first.task: {
                "rula": _pair(first.rula, second.rula),
                "rosa": _pair(first.rosa, second.rosa),
                "rula_reasons": {
                    "before": _reasons(_worst_items(first)),
                    "after": _reasons(_worst_items(second)),
                },
                "rosa_reasons": {
                    "before": _reasons(first.rosa_detail.items if first.rosa_detail else ()),
                    "after": _reasons(second.rosa_detail.items if second.rosa_detail else ()),
                },
            }
            for first, second in zip(before.tasks, after.tasks, strict=True)
        },
        "class_hours": {
            "before": [_hours(one) for one in before.hours],
            "after": [_hours(one) for one in after.hours],
        },
        "goals": _goals(plan),
        "not_scored": {"before": list(before.not_scored), "after": list(after.not_scored)},
    }


def _goals(plan: Plan) -> list[Document]:
    out = []
    for goal in plan.goals:
        values = [
            reached(goal, strain, scores)
            for strain, scores in ((plan.before, plan.scores_before), (plan.after, plan.scores_after))
        ]
        shown = [value if value is None or goal.is_score else strain_json(value) for value in values]
        limit = goal.at_most if goal.is_score else strain_json(goal.at_most)
        out.append({"name": goal.name, "at_most": limit, "before": shown[0], "after": shown[1]})
    return out


def _pair(before: int | None, after: int | None) -> Document:
    return {"before": before, "after": after}


def _worst_items(task: TaskScores) -> tuple[ItemScore, ...]:
    return () if task.worst is None else task.worst.items


def _reasons(items: tuple[ItemScore, ...]) -> list[str]:
    return [item.reason for item in items]


def _task(task: TaskScores) -> Document:
    return {
        "rula": task.rula,
        "rula_mean": quantity_json(task.rula_mean),
        "rosa": task.rosa,
        "postures": [_posture(posture) for posture in task.postures],
        "rosa_parts": None if task.rosa_detail is None else _rosa(task.rosa_detail),
        "not_scored": list(task.not_scored),
    }


def _posture(posture: RulaPosture) -> Document:
    score = posture.score
    return {
        "hands": posture.hand,
        "looks_at": posture.target,
        "mode": posture.mode,
        "share": quantity_json(posture.share),
        "a": None if score is None else score.a,
        "b": None if score is None else score.b,
        "c": None if score is None else score.c,
        "d": None if score is None else score.d,
        "grand": None if score is None else score.grand,
        "action_level": None if score is None else score.action_level,
        "items": _items(posture.items),
    }


def _rosa(detail: RosaTask) -> Document:
    score = detail.score
    return {
        "chair": None if score is None else score.chair,
        "monitor_telephone": None if score is None else score.monitor_telephone,
        "mouse_keyboard": None if score is None else score.mouse_keyboard,
        "peripherals": None if score is None else score.peripherals,
        "final": None if score is None else score.final,
        "items": _items(detail.items),
    }


def _items(items: tuple[ItemScore, ...]) -> list[Document]:
    return [{"item": item.item, "score": item.score, "reason": item.reason} for item in items]


def _class(one: ClassReading) -> Document:
    return {
        "task": one.task,
        "quantity": one.quantity,
        "of": one.of or None,
        "mode": one.mode,
        "value": quantity_json(one.value),
        "unit": one.unit,
        "class": one.posture_class,
        "hours": quantity_json(one.hours),
        "source": one.source,
        "status": one.status or None,
        "reason": one.reason,
    }


def _hours(one: ClassHours) -> Document:
    return {
        "quantity": one.quantity,
        "inside": quantity_json(one.inside),
        "conditional": quantity_json(one.conditional),
        "outside": quantity_json(one.outside),
        "unknown": quantity_json(one.unknown),
    }
