"""The page to read and print: one file of HTML that asks nothing of any network."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import current_language, tr
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.model.offers import shared_notes
from deskmend.planning.plan import BudgetPlans, Plan
from deskmend.report.budgets import Fold, budget_rows, comparison_document, more_money
from deskmend.report.dates import add_schedule
from deskmend.report.html.blocks import Blocks, page_words, shown
from deskmend.report.html.drawings import drawings_of
from deskmend.report.html.readers import assessor_view, leave_view
from deskmend.report.html.steps import cards_of, rung_view
from deskmend.report.json_text import case_name, json_text
from deskmend.report.words import money_text, strain_text

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["page_html"]


def page_html(
    plans: BudgetPlans,
    catalog: Catalog,
    prices: PriceTable,
    worth: Sequence[Fold] = (),
    dated: Plan | None = None,
) -> str:
    """Write the page of a case.

    Parameters
    ----------
    plans : BudgetPlans
        Plans for every budget.
    catalog : Catalog
        For titles and advice.
    prices : PriceTable
        The prices they were made with.
    worth : sequence of Fold
        Further lines for what things are worth and how sure the plan is, for the plan chosen.
    dated : Plan, optional
        The plan as money comes in, for what to buy when.

    Returns
    -------
    str
        A whole HTML document. The same input gives the same bytes.
    """
    cards = cards_of(plans.plans, plans.chosen, catalog, prices)
    anchors = [{card.name: card.key for card in cards if n in card.rungs} for n in range(len(plans.plans))]
    chosen = plans.plans[plans.chosen]
    style, script = _tidy(_file("page.css")), _tidy(_file("page.js"))
    text: str = (
        _environment()
        .from_string(_file("page.html"))
        .render(
            words=page_words(),
            language=current_language(),
            policy=_policy(style, script),
            style=Markup(style),
            script=Markup(script),
            data=Markup(json_text(comparison_document(plans.comparison)).replace("<", "\\u003c")),
            title=case_name(plans.comparison.case),
            signs=sign_warnings(plans.comparison.case, catalog),
            chosen=plans.chosen,
            last=len(plans.plans) - 1,
            notes=_notes(plans),
            rungs=[
                rung_view(number, plan, catalog, prices, keys)
                for number, (plan, keys) in enumerate(zip(plans.plans, anchors, strict=True))
            ],
            more=[more_money(plans, number, catalog) for number in range(len(plans.plans))],
            worth=list(worth),
            dated=_dates(dated, catalog),
            shared=list(shared_notes(chosen.case, chosen.state_after)),
            drawings=drawings_of(plans.plans),
            budgets=budget_rows(plans),
            now=strain_text(plans.comparison.before.total),
            cards=cards,
            leaves=[leave_view(plan, catalog) for plan in plans.plans],
            assessor=assessor_view(chosen, catalog),
            chosen_money=money_text(chosen.cost, chosen.currency),
        )
    )
    return _tidy(text) + "\n"


def _tidy(text: str) -> str:
    """Text without empty lines; done before style and script are hashed, so that it changes neither again."""
    return "\n".join(line.rstrip() for line in text.splitlines() if line.strip())


def _notes(plans: BudgetPlans) -> list[str]:
    """What has to be said of the budgets themselves."""
    out = []
    if plans.comparison.at:
        out.append(tr("Only the budgets that were asked for are shown, not every one there is."))
    if not plans.enough and plans.budget is not None:
        currency = plans.comparison.currency
        out.append(
            tr(
                "The {budget} in hand do not pay for what must be in the plan. The cheapest plan that "
                "holds it is shown.",
                budget=money_text(plans.budget, currency),
            )
        )
    if not plans.comparison.proven:
        out.append(tr("Not every plan is proven best. Each was checked again and holds."))
    return out


def _dates(dated: Plan | None, catalog: Catalog) -> Markup:
    """What to buy when; empty where nobody asked."""
    blocks = Blocks(4)
    if dated is not None:
        add_schedule(blocks, dated, catalog)
    return blocks.html()


@cache
def _file(name: str) -> str:
    return files("deskmend.report").joinpath("templates", name).read_text(encoding="utf-8")


def _policy(style: str, script: str) -> str:
    """Content security policy that lets nothing in but this page's own style and script."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}"


@cache
def _environment() -> Environment:
    from jinja2 import Environment, StrictUndefined

    def finalize(value: Any) -> Any:
        return value if isinstance(value, Markup) or not isinstance(value, str) else shown(value)

    return Environment(
        autoescape=True, undefined=StrictUndefined, finalize=finalize, trim_blocks=True, lstrip_blocks=True
    )
