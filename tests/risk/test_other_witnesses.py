"""Further prints of the published tables, and a cradled telephone by hand."""

from __future__ import annotations

import pytest
from tests.planning.cases import made

from deskmend.planning.score import PLAIN, score
from deskmend.risk import rosa, rula
from deskmend.workstation.state import state_of

TABLE_B = {
    # Trunk 1 to 6, each with legs 1 and 2; by neck. A thesis that cites Stanton 2005, its table 2.2.
    1: (1, 3, 2, 3, 3, 4, 5, 5, 6, 6, 7, 7),
    2: (2, 3, 2, 3, 4, 5, 5, 5, 6, 7, 7, 7),
    3: (3, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 7),
    4: (5, 5, 5, 6, 6, 7, 7, 7, 7, 7, 8, 8),
    5: (7, 7, 7, 7, 7, 8, 8, 8, 8, 8, 8, 8),
    6: (8, 8, 8, 8, 8, 8, 8, 9, 9, 9, 9, 9),
}


@pytest.mark.parametrize("neck", TABLE_B)
def test_a_third_print_of_table_b_agrees_in_every_cell(neck: int) -> None:
    arm = {"upper_arm": 1, "lower_arm": 1, "wrist": 1, "wrist_twist": 1}
    cells = [(trunk, legs) for trunk in range(1, 7) for legs in (1, 2)]
    found = [int(rula.score(**arm, neck=neck, trunk=trunk, legs=legs).b) for trunk, legs in cells]
    assert tuple(found) == TABLE_B[neck]


def test_a_filled_form_scores_the_telephone_alike() -> None:
    # A filled Brazilian form of ROSA: telephone 1, further than 300 mm 2, neck hold +2.
    near, far, held = (
        int(rosa.telephone(reach, neck_hold=hold, hands_free=True))
        for reach, hold in ((300.0, False), (310.0, False), (300.0, True))
    )
    assert (near, far, held) == (1, 2, 3)


def test_a_cradled_telephone_by_hand() -> None:
    # 6 h a day, half of it on the telephone, short spells: 3 h at the neck, half of that at the shoulder.
    told = {"tasks__0__phone_share": "0.5", "tasks__0__spell": "50"}
    held, none = (
        score(state_of(made(**told, devices__phone=phone)), PLAIN).by_region
        for phone in ("cradled", "headset")
    )
    assert held["neck"] - none["neck"] == 3_000_000
    assert held["shoulders"] - none["shoulders"] == 1_500_000
