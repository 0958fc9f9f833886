"""The public Python calls: light to import, money as people write it."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from decimal import Decimal

import pytest

import deskmend
from deskmend.api import minor_units
from deskmend.errors import InputFaults

from .conftest import CASE, PRICES, ROOT


def test_importing_deskmend_loads_nothing_else() -> None:
    code = "import sys, deskmend; print(sorted(m for m in sys.modules if m.startswith('deskmend')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['deskmend']"


def test_every_public_name_is_there() -> None:
    code = (
        "import deskmend; print([n for n in deskmend.__all__ if not hasattr(deskmend, n)]);"
        "print(deskmend.risk.rula.score.__name__, deskmend.risk.rosa.score.__name__);"
        "print(deskmend.risk.scores.day.classify('hip_angle', 90))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["[]", "score", "score", "inside"]
    with pytest.raises(AttributeError, match="no attribute 'plna'"):
        _ = deskmend.plna  # type: ignore[attr-defined]


EACH_ANEW = """
import sys
from functools import cache
from importlib.machinery import SourceFileLoader as Loader
read = cache(lambda path, name: whole(Loader(name, path), name))
whole, Loader.get_code = Loader.get_code, lambda loader, name: read(loader.path, name)
missing = []
for name in {names}:
    for known in [known for known in sys.modules if known.partition(".")[0] == "deskmend"]:
        del sys.modules[known]
    import deskmend
    assert [known for known in sys.modules if known.startswith("deskmend.")] == []
    missing += [] if hasattr(deskmend, name) else [name]
print(missing)
"""
"""Asks for each name right after deskmend is loaded anew; its files are read once."""


@pytest.mark.thorough
def test_every_public_name_is_there_before_any_other_is_asked_for() -> None:
    code = EACH_ANEW.format(names=deskmend.__all__)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_version_is_the_one_that_is_built() -> None:
    built = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    assert deskmend.__version__ == built


@pytest.mark.parametrize("amount", ["40.00", "40", 40, Decimal("40.0"), Decimal("4E+1")])
def test_money_is_taken_in_major_units(amount: object) -> None:
    assert minor_units(amount, "EUR") == 4000  # type: ignore[arg-type]


@pytest.mark.parametrize("amount", [40.0, True, None, b"40"])
def test_binary_fractions_and_other_things_are_no_money(amount: object) -> None:
    with pytest.raises(TypeError, match="money is a text"):
        minor_units(amount, "EUR")  # type: ignore[arg-type]


@pytest.mark.parametrize("amount", ["-1", -1, "1.005", Decimal("NaN"), Decimal("0.001"), "40 EUR"])
def test_amounts_that_are_none_are_refused(amount: object) -> None:
    with pytest.raises(ValueError, match="allowed"):
        minor_units(amount, "EUR")  # type: ignore[arg-type]


def test_plan_takes_the_calls_of_the_contract() -> None:
    case, catalog = deskmend.load_case(CASE), deskmend.load_catalog()
    prices = deskmend.load_prices(PRICES)
    plan = deskmend.plan(
        case, catalog, prices, budget="0", saving="5.00", minutes=5, reach={}, must=(), never=(), prove=True
    )
    assert plan.proven
    assert plan.schedule is not None
    assert plan.schedule.cost_now == 0
    assert plan.cost <= plan.limit == 12 * 500
    assert plan.minutes <= 5
    assert any("saving" in warning for warning in plan.warnings)


def test_what_is_not_allowed_is_refused() -> None:
    case = deskmend.load_case(CASE)
    with pytest.raises(InputFaults, match="rosa a whole number 1 to 10"):
        deskmend.plan(case, reach={"rosa": 5.5})
    with pytest.raises(ValueError, match="minutes"):
        deskmend.plan(case, minutes=-5)
