"""The page to read and print, of a plan or of two workplaces: one file that asks nothing of any network."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from markupsafe import Markup

from deskmend.intake.case_file import Sender
from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.planning.assessment import Beside
from deskmend.planning.inputs import sign_warnings
from deskmend.planning.model.offers import shared_notes
from deskmend.planning.plan import BudgetPlans, Plan
from deskmend.report.assessment import (
    add_beside_fit,
    called,
    measure_rows,
    quantity_rows,
    score_rows,
    strain_rows,
    summary_lines,
)
from deskmend.report.budgets import (
    budget_rows,
    by_hand_texts,
    comparison_document,
    dearer_plans,
    stop_of_all_text,
)
from deskmend.report.documents import json_text
from deskmend.report.drawing.side import drawn_pairs
from deskmend.report.fit import first_lines, suits_fold
from deskmend.report.html.blocks import Blocks, drawing_key, template_text, whole_page
from deskmend.report.html.drawings import drawings_of, first_drawings, shared_shapes
from deskmend.report.html.readers import assessor_view, employer_part
from deskmend.report.html.steps import (
    Anchors,
    RungView,
    cards_of,
    merged,
    region_bars,
    reserves_by_rung,
    rung_view,
)
from deskmend.report.layout import Fold
from deskmend.report.stages import add_schedule, add_stages, read_states, states_of
from deskmend.report.words import case_name, first_of_all, money_text, strain_text, waits
from deskmend.risk.suits import suits

__all__ = ["READERS", "Reader", "beside_drawings", "beside_html", "page_html", "page_in_our_style"]

Reader = Literal["worker", "employer", "assessor"]
READERS: tuple[Reader, ...] = ("worker", "employer", "assessor")
"""Whom a page can be for alone."""
FIRST_PART: dict[Reader, str] = {"worker": "plan", "employer": "leave", "assessor": "worth"}
"""Section that a reader's part begins with."""
MOST_LETTERS, DRAWING = 5500, 600
"""Letters that two sheets of A4 or Letter hold, and what one task's drawings count among them [-]. Measured
once: 4 letters take a pixel of height of some 1,900 that there are, and one task's drawings 150."""


def page_html(
    plans: BudgetPlans,
    catalog: Catalog,
    prices: PriceTable,
    worth: Sequence[Fold] = (),
    dated: Plan | None = None,
    reader: Reader | None = None,
    sender: Sender | None = None,
) -> str:
    """The page of a case as a whole HTML document; the same input gives the same bytes.

    `worth` are further lines on what things are worth and how sure the plan is, for the plan chosen; `dated`
    is the plan as money comes in, for what to buy when. With a `reader` the page holds that reader's part
    alone; the employer's is of the plan chosen, and names neither the case nor anything of a person's health.
    """
    if reader == "employer":
        return _employer_page(plans.plans[plans.chosen], catalog, prices, sender)
    read_states(plans.plans)
    cards = cards_of(plans.plans, plans.chosen, catalog, prices)
    chosen = plans.plans[plans.chosen]
    rungs = [
        rung_view(number, plan, catalog, prices, Anchors(cards, number))
        for number, plan in enumerate(plans.plans)
    ]
    parts: Sequence[Reader] = READERS if reader is None else (reader,)
    shapes, first, drawings = shared_shapes(first_drawings(plans.plans), drawings_of(plans.plans))
    signs = sign_warnings(plans.comparison.case, catalog)
    fit = first_lines(
        chosen.lacks, chosen.mismatches, chosen.state_before, money_text(chosen.cost, chosen.currency)
    )
    notes = _notes(plans, catalog)
    only_if = reserves_by_rung(plans.plans)
    more = merged([dearer_plans(plans, n) for n in range(len(plans.plans))])
    shared = list(shared_notes(chosen.case, states_of(chosen)))
    above_all = sum(map(len, [*signs, *fit, *notes, *shared]))

    def is_long(view: RungView) -> bool:
        """Whether a budget fills two sheets of paper unless letters and drawings are smaller."""
        told = [text for text, numbers in only_if if view.number in numbers]
        told += [fold.line for fold, numbers in more if view.number in numbers]
        drawn = sum(view.number in one.rungs for one in drawings)
        return above_all + view.letters + sum(map(len, told)) + drawn * DRAWING > MOST_LETTERS

    return _written(
        parts,
        sender,
        data=Markup(_compact(json_text(comparison_document(plans.comparison))).replace("<", "\\u003c")),
        title=case_name(plans.comparison.case),
        first=first_of_all(plans.comparison.case, catalog),
        signs=signs,
        waits=waits(plans.comparison.case, catalog),
        fit=fit,
        chosen=plans.chosen,
        last=len(plans.plans) - 1,
        notes=notes,
        rungs=rungs,
        running=[view.number for view in rungs if view.running],
        long=[view.number for view in rungs if is_long(view)],
        bars=region_bars(plans.plans),
        only_if=only_if,
        more=more,
        worth=list(worth),
        suits=suits_fold(suits(chosen.state_before)),
        dated=_dates(dated, catalog, prices),
        shared=shared,
        shapes=shapes if "worker" in parts else "",
        drawings=drawings,
        first_drawings=first,
        budgets=budget_rows(plans.comparison),
        now=strain_text(plans.comparison.before.total),
        cards=cards,
        employer=employer_part(plans.plans, catalog, prices) if "employer" in parts else None,
        assessor=assessor_view(chosen, catalog),
        chosen_money=money_text(chosen.cost, chosen.currency),
    )


def _employer_page(plan: Plan, catalog: Catalog, prices: PriceTable, sender: Sender | None) -> str:
    """The employer's part alone: nothing else is worked out, so that nothing else can come into it."""
    return _written(
        ("employer",),
        sender,
        data="",
        title=tr("What is planned for a workplace"),
        signs=[],
        waits=False,
        fit=[],
        shapes="",
        chosen=0,
        last=0,
        employer=employer_part([plan], catalog, prices),
    )


def _written(parts: Sequence[Reader], sender: Sender | None, **of: Any) -> str:
    """The page with some parts, from what they say."""
    script = _tidy(template_text("page.js"))
    return page_in_our_style(
        "page.html",
        script,
        words=_page_words(),
        parts=parts,
        first_part=FIRST_PART[parts[0]],
        sender=sender,
        **of,
    )


def page_in_our_style(template: str, script: str = "", **of: Any) -> str:
    """A whole page with the style of the report."""
    return _tidy(whole_page(template, _tidy(template_text("page.css")), script, **of)) + "\n"


def _tidy(text: str) -> str:
    """Text without empty lines; done before style and script are hashed, so that it changes neither again."""
    return "\n".join(line.rstrip() for line in text.splitlines() if line.strip())


def _compact(document: str) -> str:
    """A document of JSON without the line ends and indents it is written with."""
    return "".join(line.strip() for line in document.splitlines())


def _notes(plans: BudgetPlans, catalog: Catalog) -> list[str]:
    """What has to be said of the budgets themselves."""
    out = []
    if plans.comparison.at and not _exactly(plans):
        out.append(tr("Only the budgets that were asked for are shown, not every one there is."))
    if not plans.enough and plans.budget is not None and not _exactly(plans):
        currency = plans.comparison.currency
        out.append(
            tr(
                "The {budget} in hand do not pay for what must be in the plan. The cheapest plan that "
                "holds it is shown.",
                budget=money_text(plans.budget, currency),
            )
        )
    chosen = plans.plans[plans.chosen]
    # the slider moves from plan to plan, and this stands above them all
    if told := stop_of_all_text(chosen.stop, chosen.currency):
        out.append(told)
    if plans.budget is None:
        out.append(tr("No budget is given: the plan shown first is only where to begin."))
    if plans.by_hand is not None:
        out += by_hand_texts(plans.by_hand, chosen, catalog)
    if not plans.comparison.proven:
        out.append(tr("Not every plan is proven best. Each was checked again and holds."))
    return out


def _exactly(plans: BudgetPlans) -> bool:
    """Whether the one plan is exactly what somebody named."""
    return plans.by_hand is not None and bool(plans.by_hand.fixes)


def _dates(dated: Plan | None, catalog: Catalog, prices: PriceTable) -> Markup:
    """What to buy when; empty where nobody asked."""
    blocks = Blocks(4)
    if dated is not None:
        add_schedule(blocks, dated)
        add_stages(blocks, dated, catalog, prices)
    return blocks.html()


def _page_words() -> dict[str, str]:
    """Headings and short lines of the page by the name its template knows them by."""
    return {
        "worker": tr("Your plan"),
        "skip": tr("Go to the plan"),
        "fit": tr("What does not fit"),
        "waits": tr("The plan can wait until you have had care"),
        "contents": tr("On this page"),
        "money": tr("Money to spend"),
        "money_help": tr(
            "Move the slider, or use the arrow keys. The list, the drawing and the bars follow."
        ),
        "set_up": tr("Then make and set up"),
        "later": tr("Later"),
        "only_if": tr("Only if it happens"),
        "nothing_to_buy": tr("Nothing to buy."),
        "strain_then": tr("strain {strain}"),
        "left_then": tr("strain left"),
        "for_step": tr("for step"),
        "running": tr(
            "The column beside the steps shows the strain left once a step and all above it are done. The "
            "figure under each box says the same."
        ),
        "ticked": tr("Boxes stay ticked on this device."),
        "look_on": tr("Look again on"),
        "done_left": tr("Done: {step} {left} left"),
        "invented": tr("at invented prices"),
        "print_all": tr("Print all parts, not only the plan"),
        "lines": tr("What each takes off"),
        "kept": tr("Bought, but not needed now:"),
        "nothing_if": tr("Nothing to keep in mind."),
        "all_together": tr("All together:"),
        "how": tr("How"),
        "look_again": tr("Look again after two weeks: is each step still right?"),
        "dated": tr("What to buy when, as you save"),
        "strain": tr("Where the strain is"),
        "strain_help": tr(
            "Strain counts hours a day. One hour counts once for each part of the body that is out of its "
            "good range. Parts that trouble you count for more; the employer's page counts all parts alike, "
            "so its figures may differ. It does not measure pain."
        ),
        "strain_key": tr("White bar: now. Black bar: with this plan."),
        "part": tr("part of the body"),
        "now": tr("now"),
        "then": tr("with this plan"),
        "shared": tr("Shared with others"),
        "drawing": tr("When all is done"),
        "whole": tr("With the whole plan"),
        "drawing_key": drawing_key(),
        "above_key": tr(
            "From above. The dotted area is what the hands reach in comfort, {far} round each shoulder. The "
            "broken line is as far as they reach at all."
        ),
        "drawn_only": tr(
            "Heights, angles and distances are the ones reckoned with. Where a thing has no room there, the "
            "drawing says so."
        ),
        "measure": tr("what"),
        "worth": tr("What is it worth?"),
        "budgets": tr("All budgets in one table"),
        "from": tr("from"),
        "left": tr("strain left"),
        "taken": tr("taken off"),
        "work": tr("work"),
        "comes": tr("new:"),
        "goes": tr("no longer:"),
        "anew": tr("set anew:"),
        "nothing_done": tr("as it is now"),
        "steps": tr("How to do each step"),
        "why": tr("Why:"),
        "figures": tr("In figures, for the assessor"),
        "back": tr("Back to the list"),
        "recheck": tr("After two weeks:"),
        "leave": tr("For the employer or landlord"),
        "leave_asks": tr("What needs leave, or changes something"),
        "leave_buy": tr("What is bought"),
        "leave_more": tr("With leave, these could be looked at as well"),
        "date": tr("Date:"),
        "reference": tr("Reference:"),
        "contact": tr("Whom to ask:"),
        "who": tr("Who does what"),
        "done": tr("what is done"),
        "by": tr("who can do it"),
        "leave_of": tr("whose leave"),
        "leave_claim": tr(
            "This counts exposure: time outside comfortable limits. It does not claim that pain or injury is "
            "prevented."
        ),
        "assessor": tr("For the assessor"),
        "assessor_for": tr("These figures are for the plan at {money}; the slider does not change them."),
        "notes": tr("Further remarks"),
        "outside": tr("Outside their range, now or then"),
        "others": tr("All other measures"),
        "exposures": tr("Every exposure, with what makes its strain"),
        "range": tr("range that scores nothing"),
        "source": tr("source"),
        "estimated": tr(
            "~ rests on an estimate or an assumption, not on a measurement. ! lies outside its range."
        ),
        "sources": tr("Where the ranges come from"),
        "no_script": tr("Without script the page shows one plan. The table of all budgets has the others."),
    }


def beside_drawings(pair: Beside) -> list[dict[str, Any]]:
    """Drawings of two workplaces, each with its task where there are several, and the way of working."""
    several = len(pair.tasks) > 1
    return [
        {
            "task": next((name for name in drawn.task if name is not None), "") if several else "",
            "mode": tr("Standing") if drawn.mode == "stand" else tr("Sitting"),
            "svg": [None if one is None else Markup(one) for one in drawn.svg],
        }
        for drawn in drawn_pairs(pair)
    ]


def beside_html(pair: Beside) -> str:
    """The page as a whole HTML document; it asks nothing of any network."""
    fit = Blocks()
    add_beside_fit(fit, pair)
    head = ["", *called(pair)]
    tables = (
        (tr("Strain by region"), head, strain_rows(pair)),
        (tr("Published scores"), head, score_rows(pair)),
        (tr("What differs"), head, measure_rows(pair)),
        (tr("Outside its range in either"), [*head, tr("range")], quantity_rows(pair, outside=True)),
        (tr("Within its range in both"), [*head, tr("range")], quantity_rows(pair, outside=False)),
    )
    parts = []
    for title, named, rows in tables:
        blocks = Blocks(2)
        blocks.heading(title)
        if rows:
            blocks.table([named, *rows], right=(1, 2), head=True)
        else:
            blocks.paragraph(tr("Nothing."))
        parts.append(blocks.html())
    sides = [
        {"name": name, "case": case_name(one.case), "strain": strain_text(one.strain.total)}
        for name, one in zip((tr("First"), tr("Second")), pair.both, strict=True)
    ]
    return page_in_our_style(
        "beside.html",
        title=tr("Two workplaces side by side"),
        lines=summary_lines(pair),
        fit=fit.html(),
        sides=sides,
        drawings=beside_drawings(pair),
        tables=parts,
        strain=tr("strain"),
        not_here=tr("Not done so here."),
        outside=tr("! lies outside its range."),
    )
