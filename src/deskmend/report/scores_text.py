"""Published scores in plain text: the two scores, why they are what they are, and hours in each class."""

from __future__ import annotations

from deskmend.messages import tr
from deskmend.numerals import shown_number
from deskmend.planning.assessment import Assessment
from deskmend.planning.goal_results import reached
from deskmend.planning.plan import Plan
from deskmend.report.layout import Page
from deskmend.report.numbers import decimal_text
from deskmend.report.words import quantity_words
from deskmend.risk.posture_scores import DayScores, RulaPosture, TaskScores
from deskmend.risk.rosa import ACTION_FROM

__all__ = ["add_assessment_scores", "add_plan_scores"]

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
