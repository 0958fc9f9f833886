"""Published scores in plain text: the two scores, why they are what they are, and hours in each class.

Published scores in documents for programs.
"""

from __future__ import annotations

from deskmend.language import shown_number, tr
from deskmend.planning.assessment import Assessment
from deskmend.planning.plan import Plan
from deskmend.planning.reach import reached
from deskmend.report.documents import Document, quantity_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.words import decimal_text, quantity_words
from deskmend.risk.rosa import ACTION_FROM
from deskmend.risk.scores.classes import ClassHours, ClassReading
from deskmend.risk.scores.day import DayScores, ItemScore, RosaTask, RulaPosture, TaskScores

__all__ = ["add_assessment_scores", "add_plan_scores", "assessment_scores", "plan_scores"]


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


ACTIONS = {
    1: "acceptable if not held for long",
    2: "look further",
    3: "look further and change soon",
    4: "look further and change now",
}
"""Action levels of RULA in plain words (McAtamney & Corlett 1993)."""
HANDS = {
    "rest": "hands at rest",
    "keys": "hands at keys",
    "mouse": "hands at mouse",
    "writing": "writing",
}
EYES = {"screen": "eyes on the screen", "second": "eyes on the second screen", "paper": "eyes on paper"}
STEPS = "Both move in steps, so much that helps does not move them. Parts of the ROSA charts are from memory."


def add_assessment_scores(page: Page, assessment: Assessment) -> None:
    """Add the scores of an assessment with reasons, and the hours outside published ranges.

    Parameters
    ----------
    page : Page
        Where to add them.
    assessment : Assessment
        The assessment.
    """
    scores = assessment.scores
    page.heading(tr("Published scores"))
    now = assessment.scores_now
    if assessment.options:
        page.table([["", tr("now"), tr("with these fixes")], *_compared(now, scores)], head=True)
    else:
        page.table([row[:2] for row in _compared(scores, scores)])
    page.paragraph(_meaning(scores))
    for task in scores.tasks:
        _add_reasons(page, task)
    _add_classes(page, scores)


def add_plan_scores(page: Page, plan: Plan) -> None:
    """Add the scores before and after a plan, and its goals.

    Parameters
    ----------
    page : Page
        Where to add them.
    plan : Plan
        The plan.
    """
    page.heading(tr("Published scores"))
    page.table(
        [["", tr("now"), tr("with this plan")], *_compared(plan.scores_before, plan.scores_after)], head=True
    )
    for goal in plan.goals:
        values = [
            reached(goal, strain, scores)
            for strain, scores in ((plan.before, plan.scores_before), (plan.after, plan.scores_after))
        ]
        now, then = (
            tr("not known") if value is None else shown_number(goal.written(value)) for value in values
        )
        page.point(
            "-", tr("goal {goal}: {now} now, {then} with this plan", goal=goal.text, now=now, then=then)
        )
    page.paragraph(_meaning(plan.scores_after))


def _compared(before: DayScores, after: DayScores) -> list[list[str]]:
    both = (before, after)
    return [
        [tr("RULA, worst posture (1 to 7)"), *(_number(s.rula) for s in both)],
        [tr("RULA, mean over the time"), *(_number(s.rula_mean) for s in both)],
        [tr("ROSA, worst task (1 to 10)"), *(_number(s.rosa) for s in both)],
    ]


def _number(value: float | None) -> str:
    return tr("none") if value is None else decimal_text(value, 1)


def _meaning(scores: DayScores) -> str:
    """What the two scores ask for, in the words of their authors."""
    out = []
    if scores.rula is not None:
        action = tr(ACTIONS[(scores.rula + 1) // 2])
        out.append(tr("RULA {score} means: {action}.", score=scores.rula, action=action))
    if scores.rosa is not None:
        out.append(tr("ROSA asks for action from {score}.", score=ACTION_FROM))
    return " ".join([*out, tr(STEPS)])


def _add_reasons(page: Page, task: TaskScores) -> None:
    if task.worst is not None:
        page.paragraph(f"{task.task}: RULA {task.rula}, {_doing(task.worst)}", 2)
        page.points([item.reason for item in task.worst.items], 4)
    if task.rosa_detail is not None and task.rosa is not None:
        page.paragraph(f"{task.task}: ROSA {task.rosa}", 2)
        page.points([item.reason for item in task.rosa_detail.items], 4)
    page.points([f"{task.task}: {text}" for text in task.not_scored], 2)


def _doing(posture: RulaPosture) -> str:
    told = f"{tr(HANDS[posture.hand])}, {tr(EYES[posture.target])}"
    return f"{told}, {tr('standing')}" if posture.mode == "stand" else told


def _add_classes(page: Page, scores: DayScores) -> None:
    rows = [
        [
            quantity_words(one.quantity, ""),
            f"{decimal_text(one.conditional, 1)} h",
            f"{decimal_text(one.outside, 1)} h",
        ]
        for one in scores.hours
        if one.conditional or one.outside
    ]
    page.heading(tr("Hours a day outside published ranges"))
    if not rows:
        page.paragraph(tr("None."))
        return
    page.table([["", tr("on conditions"), tr("outside")], *rows], head=True)
    worst = [one for one in scores.classes if one.posture_class == "outside"]
    page.points(list(dict.fromkeys(f"{one.task}: {one.reason}" for one in worst)))
