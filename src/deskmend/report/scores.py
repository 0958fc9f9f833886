"""Published scores in plain text and in documents for programs: what they are, why, and hours in each class.

Every registered method is shown; what differs between them is said by the method.
"""

from __future__ import annotations

from deskmend.language import shown_number, tr
from deskmend.planning.assessment import Assessment
from deskmend.planning.plan import Plan
from deskmend.planning.reach import Goal, reached
from deskmend.report.documents import Document, quantity_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.words import decimal_text, posture_words, quantity_words
from deskmend.risk.scores.day import (
    ClassHours,
    ClassReading,
    DayScores,
    ItemScore,
    OccasionScore,
    ScoreMethod,
    TaskScores,
    methods,
)

__all__ = [
    "add_assessment_scores",
    "add_plan_scores",
    "assessment_scores",
    "compared_scores",
    "plan_scores",
    "scores_json",
    "worse_scores",
]


def scores_json(scores: DayScores) -> Document:
    """Score of the worst task by the name of each method [-], then the means; None where there is none."""
    means = {f"{method.name}_mean": quantity_json(scores.mean(method.name)) for method in methods()}
    return {method.name: scores.score(method.name) for method in methods()} | means


def assessment_scores(assessment: Assessment) -> Document:
    """Scores of an assessment, with the fixes."""
    scores, now = assessment.scores, assessment.scores_now
    return scores_json(scores) | {
        "without_fixes": {method.name: now.score(method.name) for method in methods()},
        "tasks": {task.task: _task(task) for task in scores.tasks},
        "classes": [_class(one) for one in scores.classes],
        "class_hours": [_hours(one) for one in scores.hours],
        "not_scored": list(scores.not_scored),
    }


def plan_scores(plan: Plan) -> Document:
    """Scores before and after a plan, and its goals."""
    before, after = plan.scores_before, plan.scores_after
    names = [method.name for method in methods()]
    return {
        **{
            name: {
                **_pair(before.score(name), after.score(name)),
                "mean_before": quantity_json(before.mean(name)),
                "mean_after": quantity_json(after.mean(name)),
            }
            for name in names
        },
        "tasks": {
            first.task: {
                **{name: _pair(first.score(name), second.score(name)) for name in names},
                **{
                    f"{name}_reasons": _pair(_reasons(first.shown(name)), _reasons(second.shown(name)))
                    for name in names
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


def _before_and_after(goal: Goal, plan: Plan) -> list[int | None]:
    pairs = ((plan.before, plan.scores_before), (plan.after, plan.scores_after))
    return [reached(goal, strain, scores) for strain, scores in pairs]


def _goals(plan: Plan) -> list[Document]:
    out = []
    for goal in plan.goals:
        values = _before_and_after(goal, plan)
        shown = [value if value is None or goal.is_score else strain_json(value) for value in values]
        limit = goal.at_most if goal.is_score else strain_json(goal.at_most)
        out.append({"name": goal.name, "at_most": limit, "before": shown[0], "after": shown[1]})
    return out


def _pair(before: object, after: object) -> Document:
    return {"before": before, "after": after}


def _reasons(items: tuple[ItemScore, ...]) -> list[str]:
    return [item.reason for item in items]


def _task(task: TaskScores) -> Document:
    out: Document = {}
    for method in methods():
        out[method.name] = task.score(method.name)
        if method.several:
            out[f"{method.name}_mean"] = quantity_json(task.mean(method.name))
    for method in methods():
        found = [_occasion(method, one) for one in task.occasions[method.name]]
        key = method.details or f"{method.name}_parts"
        out[key] = found if method.several else next(iter(found), None)
    return out | {"not_scored": list(task.not_scored)}


ROLE_KEYS = {"hand": "hands", "target": "looks_at", "mode": "mode"}


def _occasion(method: ScoreMethod, one: OccasionScore) -> Document:
    out: Document = {}
    if method.several:
        out = {ROLE_KEYS[role]: case for role, case in one.roles.items()}
        out["share"] = quantity_json(one.share)
    return out | {part: one.parts.get(part) for part in method.parts} | {"items": _items(one.items)}


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


HANDS = {
    "rest": "hands at rest",
    "keys": "hands at keys",
    "mouse": "hands at mouse",
    "writing": "writing",
}
EYES = {"screen": "eyes on the screen", "second": "eyes on the second screen", "paper": "eyes on paper"}
STEPS = {
    1: "It moves in steps, so much that helps does not move it.",
    2: "Both move in steps, so much that helps does not move them.",
    3: "All move in steps, so much that helps does not move them.",
}
"""What is said of so many scores, or more."""


def add_assessment_scores(page: Page, assessment: Assessment) -> None:
    """Add the scores of an assessment with reasons, and the hours outside published ranges."""
    scores = assessment.scores
    page.heading(tr("Published scores"))
    now = assessment.scores_now
    if assessment.options:
        page.table([["", tr("now"), tr("with these fixes")], *compared_scores(now, scores)], head=True)
    else:
        page.table([row[:2] for row in compared_scores(scores, scores)])
    page.paragraph(_meaning(scores))
    for task in scores.tasks:
        _add_reasons(page, task)
    _add_classes(page, scores)


def add_plan_scores(page: Page, plan: Plan) -> None:
    """Add the scores before and after a plan, and its goals."""
    page.heading(tr("Published scores"))
    page.table(
        [["", tr("now"), tr("with this plan")], *compared_scores(plan.scores_before, plan.scores_after)],
        head=True,
    )
    page.points(worse_scores(plan.scores_before, plan.scores_after))
    for goal in plan.goals:
        values = _before_and_after(goal, plan)
        now, then = (
            tr("not known") if value is None else shown_number(goal.written(value)) for value in values
        )
        page.point(
            "-", tr("goal {goal}: {now} now, {then} with this plan", goal=goal.text, now=now, then=then)
        )
    page.paragraph(_meaning(plan.scores_after))


def worse_scores(before: DayScores, after: DayScores) -> list[str]:
    """Each score that gets worse with a plan, task by task, and which of its items go up."""
    out = []
    for method in methods():
        for first, second in zip(before.tasks, after.tasks, strict=True):
            was, now = first.score(method.name), second.score(method.name)
            if was is None or now is None or now <= was:
                continue
            had = {item.item: item.score for item in first.shown(method.name)}
            risen = [
                item.reason
                for item in second.shown(method.name)
                if item.score is not None and item.score > (had.get(item.item) or 0)
            ]
            out.append(
                tr(
                    "{method} of {task} gets worse, from {was} to {now}. What goes up: {items}.",
                    method=method.title,
                    task=second.task,
                    was=was,
                    now=now,
                    items="; ".join(risen) or tr("no single item, but what they add up to"),
                )
            )
    return out


def compared_scores(before: DayScores, after: DayScores) -> list[list[str]]:
    """A row for each method, with its range: the score of either, then its mean where it has one."""
    rows = []
    for method in methods():
        worst = tr("{score} ({low} to {high})", score=tr(method.worst), low=method.low, high=method.high)
        rows.append([worst, *(_number(scores.score(method.name)) for scores in (before, after))])
        if method.mean:
            means = [_number(scores.mean(method.name)) for scores in (before, after)]
            rows.append([tr(method.mean), *means])
    return rows


def _number(value: float | None) -> str:
    return tr("none") if value is None else decimal_text(value, 1)


def _meaning(scores: DayScores) -> str:
    """What the scores ask for, in the words of their authors."""
    out = []
    for method in methods():
        score = scores.score(method.name)
        if score is None:
            continue
        if action := method.action(score):
            out.append(
                tr("{method} {score} means: {action}.", method=method.title, score=score, action=tr(action))
            )
        elif method.action_from is not None:
            out.append(
                tr("{method} asks for action from {score}.", method=method.title, score=method.action_from)
            )
    cautions = [tr(method.caution) for method in methods() if method.caution]
    return " ".join([*out, tr(STEPS[min(len(methods()), 3)]), *cautions])


def _add_reasons(page: Page, task: TaskScores) -> None:
    for method in methods():
        worst = task.worst(method.name)
        if worst is not None:
            told = [f"{task.task}: {method.title} {worst.score}", *_doing(worst)]
            page.paragraph(", ".join(told), 2)
            page.points([item.reason for item in worst.items], 4)
    page.points([f"{task.task}: {text}" for text in task.not_scored], 2)


def _doing(one: OccasionScore) -> list[str]:
    told = [tr(HANDS[one.roles["hand"]])] if "hand" in one.roles else []
    told += [tr(EYES[one.roles["target"]])] if "target" in one.roles else []
    return [*told, tr("standing")] if one.roles.get("mode") == "stand" else told


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
    named = (f"{one.task}: {posture_words(one.quantity, one.of, one.mode)}: {one.reason}" for one in worst)
    page.points(list(dict.fromkeys(named)))
