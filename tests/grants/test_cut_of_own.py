"""What a round writes down of things cut: own ones first, each of them once."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from tests.planning.cases import CATALOG

from deskmend.grants import rounds
from deskmend.intake.given_before import Had
from deskmend.intake.reading.fields import Owned


def cut(name: str, **use: int) -> Any:
    return SimpleNamespace(is_cut=True, use=use, size=None, name=name)


@pytest.mark.parametrize(
    ("owned", "used_before", "of_own"),
    [(3, 0, [2, 1]), (5, 0, [2, 2]), (1, 0, [1, 0]), (3, 2, [1, 0]), (3, 4, [0, 0])],
)
def test_two_steps_that_cut_the_same_thing_share_what_somebody_owns(
    owned: int, used_before: int, of_own: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two sheets each: the first takes own ones, the second what is left of them, the rest was given."""
    thing = next(name for name, item in CATALOG.items.items() if not item.sized)
    monkeypatch.setattr(rounds, "step_name", lambda option, tasks: option.name)
    plan = SimpleNamespace(
        options=[cut("first", **{thing: 2}), cut("second", **{thing: 2})], state=SimpleNamespace(tasks=())
    )
    row = SimpleNamespace(id="ada", case=SimpleNamespace(owns={thing: Owned(owned)}))
    shared: Any = SimpleNamespace(
        table=SimpleNamespace(people=[row]),
        handed=SimpleNamespace(gifts=[SimpleNamespace(id="ada", item=thing, size="")]),
        given=SimpleNamespace(had={"ada": Had(used_up=((thing, used_before),))}),
        plans={"ada": plan},
    )
    told = list(rounds._made(shared, CATALOG, 1))
    assert [(one.step, one.item, one.units, one.own) for one in told] == [
        ("first", thing, 2, of_own[0]),
        ("second", thing, 2, of_own[1]),
    ]
