"""What of a habit is said where its days are not weighted."""

from __future__ import annotations

from tests.planning.cases import CATALOG, SAMPLE, made

from deskmend.planning.plan import plan
from deskmend.report.plan import plan_text


def test_a_habit_without_a_part_of_the_days_is_said_to_count_on_all() -> None:
    """16 of 27 people kept the mouse in the other hand after a month (delisle_2004)."""
    case = made(
        devices__keyboard="separate",
        devices__mouse="separate",
        devices__keyboard_size={"number_pad": "yes"},
        places__0__desk__depth="800",
    )
    names = ["mouse_other_hand", "break_timer"]
    found = plan(case, CATALOG, SAMPLE, 0, must=names)
    text = " ".join(plan_text(found, CATALOG, SAMPLE).split())
    assert text.count("Counted as kept every day, though not everybody does. In the laboratory 16 of 27") == 1
    assert text.count("Counted as kept on 25 of 100 days.") == 1
    for fix in CATALOG.fixes:
        if fix.kind == "habit":
            assert fix.kept_up is None or 0.0 < fix.kept_up.share < 1.0
