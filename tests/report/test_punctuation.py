"""Sentences put together from parts end once: no full stop stands beside another mark."""

from __future__ import annotations

import re

import pytest
from tests.planning.cases import CATALOG, SAMPLE, made
from tests.stages import some

from deskmend.planning.assessment import assess
from deskmend.planning.plan import plan
from deskmend.planning.ready_case import NoPlan
from deskmend.report.assessment import assessment_text
from deskmend.report.catalog import fix_text
from deskmend.report.documents import failure_text
from deskmend.report.plan import plan_text

SIGNS = [sign.id for sign in CATALOG.signs]
TWICE = re.compile(r"(?<!\.)\.[.;:,](?!\.)|[;:,]\.|[!?]\.|\s[.,;:](?=\s|$)")


def marks_together(text: str) -> list[str]:
    """Where two marks meet, with what stands around; bars and what explains them left out."""
    lines = [line for line in text.splitlines() if "#" not in line and not re.search(r"[.+]{3}", line)]
    whole = "\n".join(lines)
    return [whole[max(0, m.start() - 30) : m.end() + 10] for m in TWICE.finditer(whole)]


def test_every_fix_of_the_catalog() -> None:
    for fix in CATALOG.fixes:
        assert marks_together(fix_text(fix, CATALOG, SAMPLE)) == [], fix.id


@pytest.mark.parametrize("sign", some(SIGNS, *SIGNS[::7]))
def test_with_every_warning_sign(sign: str) -> None:
    assert (
        marks_together(assessment_text(assess(made(person__warning_signs=[sign]), CATALOG, SAMPLE), CATALOG))
        == []
    )


def test_a_plan_and_what_hinders_one() -> None:
    case = made(
        places__0__seat__surface="hard",
        person__warning_signs=[sign.id for sign in CATALOG.signs],
        wishes={"must": []},
    )
    assert marks_together(plan_text(plan(case, CATALOG, SAMPLE, 2000), CATALOG, SAMPLE)) == []
    told = []
    for budget, minutes in ((0, None), (None, 0), (0, 0)):
        with pytest.raises(NoPlan) as caught:
            plan(case, CATALOG, SAMPLE, budget, minutes, must=["keyboard_basic"])
        told.append(failure_text(caught.value.hinders, caught.value.would_help))
    assert [marks_together(one) for one in told] == [[], [], []]
    assert [" do not suffice" in one for one in told] == [False, False, True]
