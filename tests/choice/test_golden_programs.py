"""The text of the integer program of each constraint family, and a test that no family is missing.

To write the files anew after a wanted change, set DESKMEND_WRITE_GOLDEN=1, run this file, and read the
difference.
"""

import os
import re
from pathlib import Path

import numpy as np
import pytest

from deskmend.choice import Bound, Decision, Item, Node, Option, Problem, Table
from deskmend.choice.network import build
from deskmend.choice.program import formulation
from deskmend.choice.program.formulation import add_agreement, formulate
from deskmend.choice.program.solver import LinearModel

from .lp_text import lp_text

GOLDEN = Path(__file__).parent / "golden"


def plain(*names: str, count: int = 2, **use: dict[str, int]) -> list[Decision]:
    """Decisions whose options all differ, so that reduction leaves them alone."""
    return [
        Decision(name, [Option(f"{name}{k}", use=use.get(f"{name}{k}", {})) for k in range(count)])
        for name in names
    ]


def mixed(*shape: int) -> np.ndarray:
    """A table no option of which is dominated."""
    total = np.indices(shape).sum(axis=0)
    return np.where(total % 2, 3 + total, 7 - total)


def cases() -> dict[str, Problem]:
    pair = Table(("a", "b"), mixed(2, 2))
    shared = {"a1": {"tape": 2}, "b1": {"tape": 3}, "b0": {"tape": 1}}
    return {
        "option": Problem(plain("a", count=3), tables=[Table(("a",), np.array([5, 3, 3]))]),
        "cells": Problem(plain("a", "b"), tables=[pair]),
        "node": Problem(
            plain("a", "b", count=3),
            nodes=[Node("sum", ("a", "b"), np.add.outer(np.arange(3), np.arange(3)) % 3, 3)],
            tables=[Table(("sum",), np.array([4, 1, 6])), Table(("a",), np.array([0, 2, 1]))],
        ),
        "gate": Problem(
            plain("a", "b", "place"),
            tables=[
                Table(("a", "b"), mixed(2, 2), when=("place", "place1")),
                Table(("place",), np.array([9, 0])),
            ],
        ),
        "packs": Problem(
            plain("a", "b", **shared), [Item("tape", price=250, pack=4, owned=1, stock=2)], [pair]
        ),
        "tiers": Problem(
            plain("a", "b", **shared), [Item("tape", price=250, tiers=[(3, 200), (5, 150)])], [pair]
        ),
        "money": Problem(
            plain("a", "b", a1={"tape": 1}, b1={"pad": 1}),
            [Item("tape", price=250), Item("pad", price=400)],
            [pair],
            money=500,
        ),
        "minutes": Problem(
            [Decision(name, [Option("keep"), Option("do", minutes=15)]) for name in "ab"],
            tables=[Table((name,), np.array([5, 0])) for name in "ab"],
            minutes=20,
        ),
        "forbidden": Problem(
            plain("a", "b", "c"),
            tables=[Table((name,), np.array([5, 0])) for name in "abc"],
            forbidden=[{"a": "a1", "b": "b1"}, {"a": "a1", "b": "b1", "c": "c1"}, {"b": "b1", "c": "c1"}],
        ),
        "agreement": Problem(
            plain("a", "b", "c", "d"),
            tables=[Table(("a", "b", "c"), mixed(2, 2, 2)), Table(("b", "c", "d"), mixed(2, 2, 2))],
        ),
        # so many decisions that the bound does not become a mask
        "bound": Problem(
            plain(*"abcdefghijklm"),
            tables=[Table((name,), np.array([9, 0])) for name in "abcdefghijklm"],
            bounds=[Bound([Table((name,), np.array([0, 2])) for name in "abcdefghijklm"], 7)],
        ),
    }


def program_of(family: str) -> LinearModel:
    made = formulate(build(cases()[family]))
    if family == "agreement":
        add_agreement(made)
    return made.model


@pytest.mark.parametrize("family", cases())
def test_program_text_is_as_reviewed(family: str) -> None:
    text = lp_text(program_of(family), "value")
    path = GOLDEN / f"{family}.lp"
    if os.environ.get("DESKMEND_WRITE_GOLDEN"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


def test_no_family_of_constraints_is_without_a_file() -> None:
    """Families are read off the source: every row's name starts with its family."""
    source = Path(formulation.__file__).read_text(encoding="utf-8")
    named = set(re.findall(r'model\.row\(\s*f?"([a-z_]+)', source)) | {"cells", "gated_cells"}
    shown = {row.family for family in cases() for row in program_of(family).rows}
    assert named == shown
    assert {path.stem for path in GOLDEN.glob("*.lp")} == set(cases())
