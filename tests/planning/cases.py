"""Invented cases for tests: one plain workplace, changed key by key."""

from __future__ import annotations

import copy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from deskmend.choice.elimination.labels import TooWide
from deskmend.choice.elimination.search import CaseSearch
from deskmend.choice.network import affordable, build, settled
from deskmend.choice.problem import Problem
from deskmend.choice.variants import cases_of
from deskmend.intake.case import Case
from deskmend.intake.case_file import read_case
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.planning.ready_case import ReadyCase, TooMuchToChoose, prepare

CATALOG = load_catalog()
SAMPLE: PriceTable = load_prices(CATALOG.price_folder / "sample_eur.csv")
ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = sorted(p.parent for p in (ROOT / "scenarios").glob("*/case.yaml"))

PLAIN: dict[str, Any] = {
    "format": "deskmend-case/1",
    "title": "Invented for tests",
    "person": {
        "stature": "1650",
        "sex": "female",
        "shoes": "15",
        "writing_hand": "right",
        "mouse_hand": "right",
        "eyewear": "none",
        "body": {"popliteal_height": "400", "sitting_elbow_height": "235", "sitting_eye_height": "755"},
    },
    "places": [
        {
            "id": "den",
            "seat": {
                "height": "415",
                "depth": "420",
                "surface": "foam",
                "slope": "flat",
                "back": "shaped",
                "recline": "0",
                "armrests": "none",
                "base": "legs",
                "material": "wood",
            },
            "desk": {
                "height": "650",
                "underside": "620",
                "depth": "700",
                "width": "1200",
                "top": "wood",
                "legs": "fixed",
                "edge": "rounded",
            },
            "feet_on": "floor",
            "light": {"lux": "500", "glare": "none"},
        }
    ],
    "devices": {
        "laptop": {"screen_top": "230", "screen_height": "190", "keys": "20", "depth": "240"},
        "keyboard": "built_in",
        "mouse": "touchpad",
        "phone": "none",
    },
    "tasks": [{"id": "work", "place": "den", "hours": "6", "spell": "50", "main": "laptop"}],
    "means": {"currency": "EUR", "budget": "100.00", "skill": "3", "may_alter": "no"},
}


def plain(**changes: Any) -> dict[str, Any]:
    """The plain case with dotted keys changed; None takes a key out, numbers index lists."""
    case = copy.deepcopy(PLAIN)
    for path, value in changes.items():
        node: Any = case
        parts = path.split("__")
        for part in parts[:-1]:
            if isinstance(node, list):
                node = node[int(part)]
            else:
                node = node.setdefault(part, {})
        last: Any = int(parts[-1]) if isinstance(node, list) else parts[-1]
        if value is None:
            node.pop(last, None)
        else:
            node[last] = value
    return case


GIVING_WAY: dict[str, Any] = {
    "places__0__seat__height": "400",
    "places__0__seat__height_range": ["380", "500"],
    "places__0__desk": {"height": "600", "underside": "565", "depth": "700", "edge": "rounded"},
    "owns": {"hardback_book": ["30", "40", "50"], "bath_towel": "1"},
}
"""Changes of the plain case: a pile gives way to a bought stand, and arms rest where they need no longer."""


def made(**changes: Any) -> Case:
    """A checked case made from the plain one."""
    case, faults = read_case(plain(**changes), "test case")
    assert case is not None, [str(f) for f in faults]
    assert not faults, [str(f) for f in faults]
    return case


def offering(*ids: str) -> Catalog:
    """The catalog with these fixes alone: a plan of few takes no time."""
    assert set(ids) <= set(CATALOG.by_id)
    return replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ids))


def prepared_or_skipped(case: Case) -> ReadyCase:
    """A drawn case made ready at sample prices; skipped where its tables are refused as too large."""
    try:
        return prepare(case, CATALOG, SAMPLE)
    except TooMuchToChoose:
        pytest.skip("its tables are refused as too large")


WITHIN_A_TEST = 2e7
"""Cells up to which a drawn case is planned; beyond, the integer program may take minutes."""


def quickly_solved(problem: Problem, most_cells: float = WITHIN_A_TEST) -> bool:
    """Tell by the size of its tables alone whether a drawn problem can be solved within a test."""
    try:
        for case in cases_of(affordable(problem)):
            network = build(case)
            if settled(case, network) is None:
                CaseSearch(case, network, most_cells)
    except TooWide:
        return False
    return True
