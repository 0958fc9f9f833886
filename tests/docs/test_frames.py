"""Data frames and what records show of themselves: the figures of the records, on one screen."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from tests.catalog.small_catalog import write
from tests.planning.cases import made

from deskmend.api import allocate, compare, plan
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.measures import MILLION

from .worked_page import PAGE, page_again

HANGING = made(places__0__seat__height="480")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Catalog, PriceTable]:
    folder = write(tmp_path_factory.mktemp("small"))
    return load_catalog(folder), load_prices(folder / "prices.csv")


@pytest.mark.thorough
def test_the_page_shows_what_its_examples_show() -> None:
    assert PAGE.read_text(encoding="utf-8") == page_again(), "python -m tests.docs.worked_page"


def test_a_comparison_becomes_a_frame(shop: tuple[Catalog, PriceTable]) -> None:
    comparison = compare(HANGING, *shop)
    frame = comparison.frame()
    assert frame.index.tolist() == ["today", *range(1, len(comparison.rungs) + 1)]
    assert frame["cost"].tolist() == [Decimal("0.00"), *(Decimal(r.cost) / 100 for r in comparison.rungs)]
    strains = [comparison.before.total, *(rung.strain for rung in comparison.rungs)]
    assert frame["strain"].tolist() == [strain / MILLION for strain in strains]
    regions = frame[list(comparison.before.by_region)]
    assert (regions.sum(axis=1) - frame["strain"]).abs().max() < 1e-9
    assert frame["with"].iloc[-1] == " ".join(one.with_name for one in comparison.rungs[-1].options)


def test_a_fund_becomes_a_frame(tmp_path: Path) -> None:
    six = Path(__file__).parents[2] / "scenarios" / "relief_fund" / "six_people.csv"
    note, header, *rows = six.read_text(encoding="utf-8").splitlines()
    two = [row for row in rows if row.startswith(("ana-01", "fumi-06"))]
    (tmp_path / "people.csv").write_text("\n".join([note, header, *two]) + "\n", encoding="utf-8")
    shared = allocate(str(tmp_path / "people.csv"), fund="0")
    people = shared.people()
    assert people.index.tolist() == sorted(people.index)
    assert people.index.name == "id"
    assert people["cost"].tolist() == [Decimal("0.00")] * 2
    assert not people["served"].any()
    assert people["weight"].tolist() == [1.0, 1.5]
    for name, row in people.iterrows():
        given = shared.plans[str(name)]
        assert row["strain_after"] == given.strain_after / MILLION
        assert row["strain_after"] <= row["strain_free"] <= row["strain_before"]


def test_records_show_themselves_on_one_screen(shop: tuple[Catalog, PriceTable]) -> None:
    for record in (plan(HANGING, *shop), compare(HANGING, *shop)):
        lines = repr(record).splitlines()
        assert lines[0].startswith(f"{type(record).__name__}: Invented for tests")
        assert len(lines) <= 24
        assert max(map(len, lines)) < 80
    assert "  1. den.crate_feet=80" in repr(plan(HANGING, *shop))


def test_pandas_is_loaded_only_for_a_frame() -> None:
    code = (
        "import sys, deskmend.api, deskmend.cli.program, deskmend.report.recheck;"
        "print([name for name in sys.modules if name == 'pandas'])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
