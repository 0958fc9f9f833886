"""Who reads inches reads nothing but inches: in sentences of the catalog, in sizes, in what is cut."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner
from tests.planning.cases import CATALOG, ROOT

from deskmend.cli import deskmend
from deskmend.language import in_own_unit, measuring

CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")


@pytest.mark.parametrize(
    ("told", "inches"),
    [
        ("20 to 40 mm of the depth", "0.8 to 1.6 in of the depth"),
        ("400 by 300 mm", "15.7 by 11.8 in"),
        ("it adds 1 to 3 mm", "it adds 0.04 to 0.12 in"),
        ("63 mm for 6 and 84 mm for 8 degrees", "2.5 in for 6 and 3.3 in for 8 degrees"),
        ("a letter 279.4 mm long", "a letter 11.0 in long"),
        ("{size} mm, 5 mmol, 3 degrees", "{size} mm, 5 mmol, 3 degrees"),
    ],
)
def test_lengths_in_a_sentence(told: str, inches: str) -> None:
    with measuring("in"):
        assert in_own_unit(told) == inches
    assert in_own_unit(told) == told


@pytest.mark.parametrize(
    "arguments", [("plan", CASE, "--steps"), ("assess", CASE), ("catalog", "feet_carton")]
)
def test_no_text_mixes_inches_with_millimetres(arguments: tuple[str, ...]) -> None:
    result = CliRunner().invoke(deskmend, [*arguments, "--units", "in"])
    assert result.exit_code == 0, result.stderr
    # a title of a source is left as it is printed; a side that is a sum stays as the catalog has it
    told = [line for line in result.stdout.splitlines() if "limits in mm" not in line and "size" not in line]
    assert re.findall(r"\S+ (?:mm|cm)\b", "\n".join(told)) == []
    assert re.search(r"\d in\b", result.stdout)


def test_no_text_of_the_catalog_keeps_a_millimetre() -> None:
    """Every sentence of every fix, also of those that no scenario plans."""
    for fix in CATALOG.fixes:
        result = CliRunner().invoke(deskmend, ["catalog", fix.id, "--units", "in"])
        # a side that is a sum of the size stays as the catalog has it
        told = [line for line in result.stdout.splitlines() if "size" not in line and "(" not in line]
        assert re.findall(r"\d (?:mm|cm)\b", "\n".join(told)) == [], fix.id
