"""What is owned is promised once: to the steps together no more than there is, and the rest is bought."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from random import Random
from typing import Any

import pytest
from tests.planning.cases import CATALOG, SAMPLE, SCENARIOS, made
from tests.planning.drawn_cases import drawn_case
from tests.stages import seeds, some

from deskmend.intake.case import Case, Owned
from deskmend.intake.case_file import load_case
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.planning.bill import BillLine, Taking, bill_of, takings
from deskmend.planning.model.offers import offers_for, piece_item
from deskmend.planning.plan import Plan, plan
from deskmend.report.plan import plan_document, plan_text
from deskmend.workstation.state import state_of

CARTONS = ("feet_carton", "screen_box")


def two_cartons(owned: int) -> tuple[Plan, str, dict[str, Any]]:
    """A plan with two steps that take a carton each."""
    case = made(
        places__0__seat__height="520",
        places__0__desk={"height": "760", "underside": "730", "depth": "700", "edge": "rounded"},
        owns={"carton_box": str(owned), "keyboard": "1", "mouse": "1"} if owned else {"keyboard": "1"},
        means__tools=["scissors", "knife"],
    )
    found = plan(case, CATALOG, SAMPLE, 10_000, must=CARTONS)
    return found, " ".join(plan_text(found, CATALOG, SAMPLE).split()), plan_document(found, CATALOG)


@pytest.mark.parametrize("owned", some([0, 1, 2], 1))
def test_a_carton_is_promised_to_as_many_steps_as_there_are_cartons(owned: int) -> None:
    found, text, document = two_cartons(owned)
    assert text.count("Carton of double-layer cardboard, 1 piece (you have it)") == owned
    takes = [m for s in document["steps"] for m in s["materials"] if m["item"] == "carton_box"]
    assert [one["owned"] for one in takes] == [1] * owned + [0] * (2 - owned)
    bought = [line.packs for line in found.bill.lines if line.item == "carton_box"]
    assert bought == ([2 - owned] if owned < 2 else [])
    assert text.count("of Carton of double-layer cardboard") == (owned < 2)


def promised(takes: Iterable[Taking], lines: Iterable[BillLine], case: Case, prices: PriceTable) -> None:
    """Hold what steps take against what is owned and what is bought."""
    owned, out_of_packs = Counter[str](), Counter[str]()
    for one in takes:
        assert 0 <= one.owned <= one.units
        owned[one.item] += one.owned
        out_of_packs[one.item] += one.units - one.owned
    for item, units in owned.items():
        had = case.owns.get(item.partition(":")[0])
        if had is None:
            assert not units
        elif ":" in item:
            assert units <= sum(item == piece_item(item.partition(":")[0], piece) for piece in had.pieces)
        else:
            assert units <= had.count
    packs = {line.item: line.packs * prices.items[line.item].pack for line in lines}
    for item, units in out_of_packs.items():
        assert units <= packs.get(item, 0)
        assert bool(units) == (item in packs)


@pytest.mark.parametrize("folder", some(SCENARIOS, "kitchen_books", "counter_calls"))
def test_in_every_scenario(folder: Any) -> None:
    case, prices = load_case(folder / "case.yaml"), load_prices(folder / "prices.csv")
    found = plan(case, CATALOG, prices)
    promised([one for step in found.steps for one in step.takes], found.bill.lines, case, prices)
    document = plan_document(found, CATALOG)
    told = Counter[str]()
    for step in document["steps"]:
        told.update({one["item"]: one["owned"] for one in step["materials"]})
    assert all(told[item] <= case.owns[item].count for item in told if told[item])


@seeds(4, 25)
def test_in_drawn_sets_of_fixes(seed: int) -> None:
    draw = Random(seed)
    case = drawn_case(seed)
    offers = offers_for(case, state_of(case), CATALOG, SAMPLE)
    owns = {item: draw.randint(1, 3) for item in CATALOG.items if draw.random() < 0.5}
    owning = case.model_copy(update={"owns": {name: Owned(count) for name, count in owns.items()}})
    for _ in range(20):
        some_of = [draw.choice(o.options) for o in offers.decisions if o.options and draw.random() < 0.5]
        draw.shuffle(some_of)
        of_sale = [o for o in some_of if all(item in SAMPLE.items or ":" in item for item in o.use)]
        bill = bill_of(of_sale, owning, SAMPLE)
        if not bill.missing:
            takes = takings(of_sale, owning)
            promised([one for each in takes for one in each], bill.lines, owning, SAMPLE)
