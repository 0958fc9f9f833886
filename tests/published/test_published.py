"""Published values, read from the YAML files beside this test.

A file has ``sources`` and ``checks``; a check names a function of ``deskmend.risk`` or of a test, a source, a
status and rows of ``inputs`` and ``outputs``. Lists in a row stand for as many single cases; ``tolerance``
is 0 where not given.
"""

import importlib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

FILES = sorted(Path(__file__).parent.glob("*.yaml"))
STATUSES = ("confirmed", "from memory", "common practice", "judgement")


@cache
def _content(file: Path) -> Any:
    return yaml.load(file.read_text(encoding="utf-8"), getattr(yaml, "CSafeLoader", yaml.SafeLoader))


@cache
def _cases() -> dict[str, list[tuple[str, str, dict[str, Any], dict[str, Any], float]]]:
    """Single cases of every check, each with its name, what it asks for and what is to come out."""
    cases: dict[str, list[tuple[str, str, dict[str, Any], dict[str, Any], float]]] = {}
    for file in FILES:
        content = _content(file)
        for number, check in enumerate(content["checks"]):
            for place, row in enumerate(check["rows"]):
                parts = {**row["inputs"], **row["outputs"]}
                sizes = {len(part) for part in parts.values() if isinstance(part, list)}
                assert len(sizes) <= 1, f"{file.name}: lists of different length in {row}"
                for i in range(sizes.pop() if sizes else 1):
                    inputs, outputs = (
                        {k: v[i] if isinstance(v, list) else v for k, v in row[side].items()}
                        for side in ("inputs", "outputs")
                    )
                    tolerance = row.get("tolerance", check.get("tolerance", 0))
                    name = f"{file.stem}-{number}-{check['function']}"
                    case = (f"{name}-{place}-{i}", check["function"], inputs, outputs, tolerance)
                    cases.setdefault(name, []).append(case)
    return cases


def _checks() -> list[tuple[str, dict[str, Any], dict[str, str]]]:
    found = []
    for file in FILES:
        content = _content(file)
        found += [(file.name, check, content["sources"]) for check in content["checks"]]
    return found


def _call(function: str, inputs: dict[str, Any]) -> Any:
    module, name = function.rsplit(".", 1)
    place = module if module.startswith("tests.") else f"deskmend.risk.{module}"
    return getattr(importlib.import_module(place), name)(**inputs)


@pytest.mark.parametrize("check", _cases())
def test_published_values(check):
    for name, function, inputs, outputs, tolerance in _cases()[check]:
        result = _call(function, inputs)
        for key, wanted in outputs.items():
            read = result if key == "value" else getattr(result, key)
            if isinstance(wanted, str):
                assert read == wanted, name
            else:
                assert abs(float(read) - wanted) <= tolerance, name


def test_every_check_names_a_known_source_and_status():
    for name, check, sources in _checks():
        assert check["source"] in sources, f"{name}: {check['source']}"
        assert check["status"].split(",")[0] in STATUSES, f"{name}: {check['status']}"


def test_no_source_is_listed_in_vain():
    for file in FILES:
        content = _content(file)
        assert {check["source"] for check in content["checks"]} == content["sources"].keys(), file.name


def test_every_score_table_and_item_has_a_row():
    from deskmend.risk import rosa, rula

    named = {check["function"] for _, check, _ in _checks()}
    wanted = {f"rula.{name}" for name in rula.__all__} | {f"rosa.{name}" for name in rosa.__all__}
    not_published_as_such = {
        "rula.FORCE_KINDS",
        "rula.LIMITS",
        "rula.RulaScore",
        "rula.explain",
        "rula.grand",
        "rosa.ACTION_FROM",
        "rosa.LIMITS",
        "rosa.RosaScore",
        "rosa.explain",
        "rosa.final",
    }
    assert not wanted - not_published_as_such - named
    assert "scores.day.classify" in named


def test_every_quantity_with_classes_has_a_row():
    from deskmend.risk.scores.day import zones

    seen = {
        row["inputs"]["quantity"]
        for _, check, _ in _checks()
        if check["function"] == "scores.day.classify"
        for row in check["rows"]
    }
    assert seen == set(zones())


@pytest.mark.parametrize(
    ("function", "table"),
    [(f"rula.table_{letter}", f"rula_table_{letter}") for letter in "abc"]
    + [(f"rosa.table_{letter}", f"rosa_table_{letter}") for letter in "abcde"],
)
def test_every_cell_of_every_table_has_a_row(function, table):
    from deskmend.risk.ranges import score_table

    shipped = score_table(table)
    places = set()
    for case in _cases().values():
        for _, name, inputs, _, _ in case:
            if name == function:
                places.add(tuple(inputs[axis] for axis, _, _ in shipped.axes))
    cells = {
        tuple(i + low for i, (_, low, _) in zip(index, shipped.axes, strict=True))
        for index in np.ndindex(shipped.values.shape)
    }
    assert cells <= places


@pytest.mark.parametrize("table", ["rula_table_a", "rula_table_b", "rula_table_c", "rosa_table_a"])
def test_a_table_called_confirmed_rests_on_more_than_memory(table):
    """Where the shipped head does not say "from memory", a row of another status must exist."""
    from deskmend.risk.ranges import score_table

    function = table.replace("_table", ".table")
    statuses = {check["status"] for _, check, _ in _checks() if check["function"] == function}
    if not score_table(table).status.startswith("from memory"):
        assert "confirmed" in statuses
