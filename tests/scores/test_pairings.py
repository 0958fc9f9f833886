"""Which work of the hands goes with which look."""

from __future__ import annotations

import pytest

from deskmend.risk.scores.methods.rula_of_task import pairs
from deskmend.workstation.state import evaluate

from .workplaces import SCENARIOS, changed, scenario


def shares(**fields: float) -> dict[tuple[str, str], float]:
    empty = dict.fromkeys(
        ("look__screen", "look__second", "look__paper", "hands__keys", "hands__mouse", "hands__writing"), 0.0
    )
    state = changed(scenario("kitchen_books"), **{**empty, **fields})
    evaluation = evaluate(state, "ledger")
    found = {
        (hand, target): float(evaluation("pair_share", hand=hand, target=target)) for hand, target in pairs()
    }
    return {pair: share for pair, share in found.items() if share}


@pytest.mark.parametrize("name", SCENARIOS)
def test_shares_add_up_to_the_looking_time(name: str) -> None:
    state = scenario(name)
    for task in state.tasks:
        evaluation = evaluate(state, task)
        total = sum(float(evaluation("pair_share", hand=hand, target=target)) for hand, target in pairs())
        looked = sum(
            float(evaluation("look_share", target=target)) for target in ("screen", "second", "paper")
        )
        assert total == pytest.approx(looked)


def test_keys_and_mouse_go_with_the_screen_and_share_it_by_their_time() -> None:
    assert shares(look__screen=1.0, hands__keys=0.6, hands__mouse=0.2) == pytest.approx(
        {("keys", "screen"): 0.75, ("mouse", "screen"): 0.25}
    )


def test_writing_and_copying_go_with_paper() -> None:
    found = shares(look__screen=0.5, look__paper=0.5, hands__keys=0.3, hands__writing=0.3)
    assert found == pytest.approx(
        {("keys", "screen"): 0.5, ("keys", "paper"): 0.25, ("writing", "paper"): 0.25}
    )


def test_reading_is_scored_with_resting_hands() -> None:
    assert shares(look__paper=1.0) == {("rest", "paper"): 1.0}
    assert shares(look__screen=0.4, look__paper=0.6, hands__mouse=0.4) == pytest.approx(
        {("mouse", "screen"): 0.4, ("rest", "paper"): 0.6}
    )


def test_hands_whose_own_tool_is_not_looked_at_go_with_what_is() -> None:
    assert shares(look__paper=1.0, hands__mouse=0.5) == {("mouse", "paper"): 1.0}
    assert shares(look__screen=1.0, hands__writing=0.5) == {("writing", "screen"): 1.0}
