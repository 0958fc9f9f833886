"""Which parts of the body are out of their range at one task, now and with the fixes."""

from __future__ import annotations

from dataclasses import dataclass

from deskmend.planning.score import Score

__all__ = ["Mark", "marks_of"]


@dataclass(frozen=True)
class Mark:
    """One part of the body that is out of its range now or then.

    Attributes
    ----------
    part : str
        Region.
    out_now, out_then : bool
        Whether it has any strain at this task.
    now, then : int
        That strain [millionths of h/day].
    """

    part: str
    out_now: bool
    out_then: bool
    now: int
    then: int


def marks_of(task: str, mode: str, now: Score, then: Score) -> tuple[Mark, ...]:
    """Parts of the body with strain at one task, in the order of the regions.

    Parameters
    ----------
    task : str
        Id of a task.
    mode : str
        ``sit`` or ``stand``.
    now, then : Score
        Without and with the fixes.
    """
    before, after = (_of_task(score, task, mode) for score in (now, then))
    return tuple(
        Mark(part, before[part] > 0, after[part] > 0, before[part], after[part])
        for part in now.by_region
        if before[part] > 0 or after[part] > 0
    )


def _of_task(score: Score, task: str, mode: str) -> dict[str, int]:
    out = dict.fromkeys(score.by_region, 0)
    for term in score.terms:
        if term.task == task and term.roles.get("mode", mode) == mode:
            out[term.region] += term.value
    return out
