"""Published scores in plain text: the two scores, why they are what they are, and hours in each class."""

from __future__ import annotations

from deskmend.planning.assessment import Assessment
from deskmend.planning.goal_results import reached
from deskmend.planning.plan import Plan
from deskmend.report.layout import Page
from deskmend.report.words import quantity_words
from deskmend.risk.posture_scores import DayScores, RulaPosture, TaskScores
from deskmend.risk.rosa import ACTION_FROM
from deskmend.units import format_number

__all__ = ["add_assessment_scores", "add_plan_scores"]

ACTIONS = {
    1: "acceptable if not held for long",
    2: "look further",
    3: "look further and change soon",
    4: "look further and change now",
}
"""Action levels of RULA in plain words (McAtamney & Corlett 1993)."""
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
    page.heading("Published scores")
    now = assessment.scores_now
    if assessment.options:
        page.table([["", "now", "with these fixes"], *_compared(now, scores)])
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
    page.heading("Published scores")
    page.table([["", "now", "with this plan"], *_compared(plan.scores_before, plan.scores_after)])
    for goal in plan.goals:
        values = [
            reached(goal, strain, scores)
            for strain, scores in ((plan.before, plan.scores_before), (plan.after, plan.scores_after))
        ]
        shown = ["not known" if value is None else goal.written(value) for value in values]
        page.point("-", f"goal {goal.text}: {shown[0]} now, {shown[1]} with this plan")
    page.paragraph(_meaning(plan.scores_after))


def _compared(before: DayScores, after: DayScores) -> list[list[str]]:
    both = (before, after)
    return [
        ["RULA, worst posture (1 to 7)", *(_number(s.rula) for s in both)],
        ["RULA, mean over the time", *(_number(s.rula_mean) for s in both)],
        ["ROSA, worst task (1 to 10)", *(_number(s.rosa) for s in both)],
    ]


def _number(value: float | None) -> str:
    return "none" if value is None else format_number(value, 1)


def _meaning(scores: DayScores) -> str:
    """What the two scores ask for, in the words of their authors."""
    out = []
    if scores.rula is not None:
        out.append(f"RULA {scores.rula} means: {ACTIONS[(scores.rula + 1) // 2]}.")
    if scores.rosa is not None:
        out.append(f"ROSA asks for action from {ACTION_FROM}.")
    return " ".join([*out, STEPS])


def _add_reasons(page: Page, task: TaskScores) -> None:
    if task.worst is not None:
        page.paragraph(f"{task.task}: RULA {task.rula}, {_doing(task.worst)}", 2)
        page.points([item.reason for item in task.worst.items], 4)
    if task.rosa_detail is not None and task.rosa is not None:
        page.paragraph(f"{task.task}: ROSA {task.rosa}", 2)
        page.points([item.reason for item in task.rosa_detail.items], 4)
    page.points([f"{task.task}: {text}" for text in task.not_scored], 2)


def _doing(posture: RulaPosture) -> str:
    hands = "hands at rest" if posture.hand == "rest" else f"hands at {posture.hand}"
    if posture.hand == "writing":
        hands = "writing"
    target = {"screen": "the screen", "second": "the second screen", "paper": "paper"}[posture.target]
    standing = ", standing" if posture.mode == "stand" else ""
    return f"{hands}, eyes on {target}{standing}"


def _add_classes(page: Page, scores: DayScores) -> None:
    rows = [
        [
            quantity_words(one.quantity, ""),
            f"{format_number(one.conditional, 1)} h",
            f"{format_number(one.outside, 1)} h",
        ]
        for one in scores.hours
        if one.conditional or one.outside
    ]
    page.heading("Hours a day outside published ranges")
    if not rows:
        page.paragraph("None.")
        return
    page.table([["", "on conditions", "outside"], *rows])
    worst = [one for one in scores.classes if one.posture_class == "outside"]
    page.points(list(dict.fromkeys(f"{one.task}: {one.reason}" for one in worst)))
