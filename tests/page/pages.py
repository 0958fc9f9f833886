"""Pages of the scenarios, made once a run, and small ways to look into them."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import yaml
from tests.stages import NOW, some

from deskmend.intake.case import Case
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.prices import PriceTable
from deskmend.planning.inputs import find_prices
from deskmend.planning.plan import BudgetPlans, budget_plans
from deskmend.report.html.page import page_html

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = sorted(
    folder.name for folder in (ROOT / "scenarios").iterdir() if (folder / "case.yaml").is_file()
)
ASKED = {"shared_chair_papers": (0, 1000, 3500)}
"""Budgets asked for where the whole frontier takes long [minor units]."""
AT_FIRST = dict.fromkeys(SCENARIOS, (0, 1000, 4000)) | ASKED
"""Budgets asked for in the first stage."""


LOOKED_AT = some(SCENARIOS, "counter_calls")
"""Scenarios whose pages are looked at, in the first stage one of them."""


@dataclass(frozen=True)
class Made:
    """A page and what it was made from."""

    case: Case
    catalog: Catalog
    prices: PriceTable
    plans: BudgetPlans
    html: str


@cache
def page_of(scenario: str) -> Made:
    """Page of a scenario."""
    case = load_case(ROOT / "scenarios" / scenario / "case.yaml")
    catalog = load_catalog()
    return made(case, catalog, at=(ASKED if NOW.thorough else AT_FIRST).get(scenario))


def made(case: Case, catalog: Catalog, at: tuple[int, ...] | None = None) -> Made:
    """Page of any case."""
    found = find_prices(case, catalog)
    plans = budget_plans(case, catalog, found.table, None, at, found.warnings)
    return Made(case, catalog, found.table, plans, page_html(plans, catalog, found.table))


def varied(folder: Path, scenario: str, **changes: Any) -> Case:
    """Case of a scenario with some keys changed, or left out where None; ``__`` parts levels."""
    source = ROOT / "scenarios" / scenario
    data = yaml.safe_load((source / "case.yaml").read_text(encoding="utf-8"))
    for name, value in changes.items():
        at: Any = data
        *levels, last = name.split("__")
        for level in levels:
            at = at[int(level)] if level.isdigit() else at[level]
        if value is None:
            del at[last]
        else:
            at[last] = value
    (folder / "case.yaml").write_text(yaml.safe_dump(data, allow_unicode=True), encoding="utf-8")
    (folder / "prices.csv").write_bytes((source / "prices.csv").read_bytes())
    return load_case(folder / "case.yaml")


def comparison_in(html: str) -> dict[str, Any]:
    """The document that a page carries."""
    found = re.search(r'<script type="application/json" id="comparison">(.*?)</script>', html, re.DOTALL)
    assert found is not None
    document: dict[str, Any] = json.loads(found[1])
    return document


VOID = {"meta", "link", "input", "br", "rect", "line", "circle", "path", "polygon", "polyline"}
BLOCKS = {"p", "li", "h1", "h2", "h3", "h4", "summary", "div", "th", "td", "tr"}


class ShownText(HTMLParser):
    """Text of one section that is shown at first, as blocks; drawings, tables and hidden parts left out."""

    def __init__(self, section: str) -> None:
        super().__init__()
        self.section = section
        self.stack: list[tuple[str, bool, bool]] = []
        self.blocks: list[str] = [""]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Go in."""
        if tag in VOID:
            return
        named = dict(attrs)
        left_out = "hidden" in named or tag in ("svg", "table", "script", "style", "noscript")
        self.stack.append((tag, named.get("id") == self.section, left_out))
        self._part(tag)

    def handle_endtag(self, tag: str) -> None:
        """Go out."""
        if tag in VOID:
            return
        self.stack.pop()
        self._part(tag)

    def _part(self, tag: str) -> None:
        if tag in BLOCKS and self.blocks[-1]:
            self.blocks.append("")

    def handle_data(self, data: str) -> None:
        """Take what is shown."""
        if any(here for _, here, _ in self.stack) and not any(out for *_, out in self.stack):
            self.blocks[-1] += data


def shown_text(html: str, section: str) -> list[str]:
    """Blocks of text that a section shows at first."""
    parser = ShownText(section)
    parser.feed(html)
    return [" ".join(block.split()) for block in parser.blocks if block.strip()]
