"""Quantities of many states worked out at once are those of each state alone."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
from tests.planning.drawn_cases import drawn_case
from tests.stages import seeds

from deskmend.risk.severity import curves, moved_curves, read_together, seen_in
from deskmend.workstation.graph import QUANTITIES, ROLES
from deskmend.workstation.state import DEVICES, State, evaluate, state_of


def _otherwise(state: State) -> list[State]:
    """The same workplace with a thing or two otherwise."""
    place = ("place", state.places[0])
    return [
        state,
        state.with_values({(place, "seat.pad"): 40.0, (place, "screen.raise"): 80.0}),
        state.with_values({(DEVICES, "keyboard"): "separate", (DEVICES, "mouse"): "separate"}),
        state.with_values({(place, "stand_share"): 0.5, (place, "feet.height"): 60.0}),
    ]


@seeds(2, 20)
def test_many_states_read_as_each_does_alone(seed: int) -> None:
    states = _otherwise(state_of(drawn_case(seed)))
    read_together(states)
    for state, task in product(states, states[0].tasks):
        alone, seen = evaluate(state, task), seen_in(state, task)
        for name in QUANTITIES.quantities:
            roles = sorted(QUANTITIES.roles_of(name))
            for cases in product(*(ROLES[role] for role in roles)):
                asked = dict(zip(roles, cases, strict=True))
                try:
                    wanted = alone(name, **asked)
                except KeyError:
                    # paper has no top edge, for one
                    continue
                np.testing.assert_array_equal(seen(name, **asked), wanted, f"{name} {asked}")


def test_what_is_kept_is_kept_for_its_curves_alone() -> None:
    state = state_of(drawn_case(1))
    task, asked = state.tasks[0], {"mode": "sit", "target": "paper"}
    before = float(seen_in(state, task)("neck_bent_severity", **asked))
    curve = curves()["head_inclination"]
    with moved_curves({curve.name: replace(curve, zero_at=-60.0, one_at=-30.0)}):
        assert float(seen_in(state, task)("neck_bent_severity", **asked)) > before
    assert float(seen_in(state, task)("neck_bent_severity", **asked)) == before
