"""TOY: a score that is made up, as small as a score can be. It scores each look at a screen."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any, TypeVar

from numpy.typing import ArrayLike

from deskmend.risk.scores.items import Given, ItemBook
from deskmend.risk.scores.method import (
    Apply,
    ItemScore,
    Occasion,
    ScoreMethod,
    item_call,
    item_quantity,
)
from deskmend.workstation.graph import ROLES, Array, Evaluation

T = TypeVar("T")

ITEMS = ItemBook("toy", "tests.scores")


@ITEMS.scored()
def gaze(gaze_down_deg: ArrayLike, glare: ArrayLike = False) -> None:
    """Gaze score [-], 1 to 4: centre of the screen below the eye [deg], and glare on it."""


@item_quantity("toy_gaze_score", target=("screen", "second"))
def _gaze(gaze_centre: Array, glare_severity: Array) -> Given:
    """TOY gaze."""
    return gaze.given(gaze_centre, glare_severity > 0)


def _occasions(evaluation: Evaluation[T], _apply: Apply[T]) -> Iterator[Occasion[T]]:
    for mode in ROLES["mode"]:
        for target in ("screen", "second"):
            times = (evaluation("mode_share", mode=mode), evaluation("look_share", target=target))
            if not any(evaluation.is_zero(time) for time in times):
                roles = {"target": target, "mode": mode}
                score = evaluation("toy_gaze_score", **roles)
                yield Occasion(
                    f"toy.{target}.{mode}", roles, times, score, partial(_items, evaluation, roles)
                )


def _items(evaluation: Evaluation[Any], roles: dict[str, str]) -> Iterator[ItemScore]:
    yield ItemScore.of(item_call(evaluation, "toy_gaze_score", **roles))


TOY = ScoreMethod(
    name="toy",
    title="TOY",
    year=2020,
    low=1,
    high=4,
    occasions=_occasions,
    worst="TOY, worst look",
    actions={2: "well", 4: "look again"},
)
