"""Which work of the hands goes with which look: the postures of a task that RULA scores.

RULA scores one posture at a time. Keys and mouse are paired with the screens,
keys also with paper (copying), writing with paper. What is looked at while no
activity goes with it is paired with resting hands; hands whose own tool is not
looked at are paired with what is. All of this is a judgement.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from deskmend.workstation.quantities import Array, quantity

__all__ = ["HANDS", "TARGETS", "pairs"]

HANDS = ("keys", "mouse", "writing", "rest")
TARGETS = ("screen", "second", "paper")


def pairs() -> Iterator[tuple[str, str]]:
    """Every activity of the hands with every tool looked at; their share may be 0."""
    yield from ((hand, target) for target in TARGETS for hand in HANDS)


def _shares(
    look: tuple[Array, Array, Array], hands: tuple[Array, Array, Array]
) -> dict[tuple[str, str], Array]:
    """Part of the looking time of each pair [-]; they add up to the looking time."""
    screen, second, paper = (np.asarray(share, dtype=float) for share in look)
    keys, mouse, writing = (np.asarray(share, dtype=float) for share in hands)
    at_screens = (screen > 0) | (second > 0)
    beside = np.where(paper > 0, 0.0, writing)
    on_paper = np.where(at_screens, 0.0, mouse)
    wanted = {
        "screen": (keys, mouse, beside),
        "second": (keys, mouse, beside),
        "paper": (keys, on_paper, writing),
    }
    out: dict[tuple[str, str], Array] = {}
    for target, looked in (("screen", screen), ("second", second), ("paper", paper)):
        total = wanted[target][0] + wanted[target][1] + wanted[target][2]
        whole = np.where(total > 0, total, 1.0)
        for hand, share in zip(HANDS, wanted[target], strict=False):
            out[hand, target] = looked * share / whole
        out["rest", target] = np.where(total > 0, 0.0, looked)
    return out


def _register(hand: str, target: str) -> None:
    @quantity("-", name="pair_share", hand=hand, target=target)
    def share_of_pair(
        look_screen: Array,
        look_second: Array,
        look_paper: Array,
        hands_keys: Array,
        hands_mouse: Array,
        hands_writing: Array,
    ) -> Array:
        """Part of the looking time in which the hands do one thing and one tool is looked at."""
        look = (look_screen, look_second, look_paper)
        return _shares(look, (hands_keys, hands_mouse, hands_writing))[hand, target]


for _hand, _target in pairs():
    _register(_hand, _target)
