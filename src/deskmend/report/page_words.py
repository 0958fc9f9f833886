"""Headings and short lines of the page, in the reader's language."""

from __future__ import annotations

from deskmend.messages import tr

__all__ = ["page_words"]


def page_words() -> dict[str, str]:
    """Words of the page by the name its template knows them by."""
    return {
        "worker": tr("Your plan"),
        "skip": tr("Go to the plan"),
        "contents": tr("On this page"),
        "signs": tr("FIRST: see a licensed clinician"),
        "money": tr("Money to spend"),
        "money_help": tr(
            "Move the slider, or use the arrow keys. The list, the drawing and the bars follow."
        ),
        "today": tr("Today, for nothing"),
        "buy": tr("Then buy"),
        "make": tr("Then make and set up"),
        "later": tr("Later"),
        "only_if": tr("Only if it happens"),
        "nothing_today": tr("Nothing can be done without buying first."),
        "nothing_to_buy": tr("Nothing to buy."),
        "nothing_to_make": tr("Nothing to make."),
        "nothing_if": tr("Nothing to keep in mind."),
        "all_together": tr("All together:"),
        "how": tr("How"),
        "look_again": tr("Look again after two weeks. Each step below says at what."),
        "dated": tr("What to buy when, as you save"),
        "strain": tr("Where the strain is"),
        "strain_help": tr(
            "Strain counts hours a day. One hour counts once for each part of the body that is out of its "
            "good range. Parts that trouble you count for more. It does not measure pain."
        ),
        "strain_key": tr("White bar: now. Black bar: with this plan."),
        "part": tr("part of the body"),
        "now": tr("now"),
        "then": tr("with this plan"),
        "shared": tr("Shared seat"),
        "drawing": tr("The place, drawn to scale"),
        "drawing_key": tr(
            "Thin grey lines: now. Strong lines: with this plan. A broken ring marks a part that is still "
            "out of its good range. A plain ring marks one that was out and no longer is."
        ),
        "above_key": tr(
            "From above. The grey area is what the hands reach in comfort, {far} round each shoulder. The "
            "broken line is as far as they reach at all."
        ),
        "drawn_only": tr(
            "Heights and angles are the ones reckoned with. How far things stand from each other is drawn so "
            "that none stands in another."
        ),
        "measure": tr("what"),
        "no_letter": tr("not in the drawing"),
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
        "back": tr("Back to the list"),
        "recheck": tr("After two weeks:"),
        "leave": tr("For the employer or landlord"),
        "leave_asks": tr("What needs leave, or changes something"),
        "leave_buy": tr("What is bought"),
        "leave_more": tr("With leave, these could be looked at as well"),
        "leave_claim": tr(
            "This counts exposure: time outside comfortable limits. It does not claim that pain or injury is "
            "prevented."
        ),
        "assessor": tr("For the assessor"),
        "assessor_for": tr("These figures are for the plan at {money}; the slider does not change them."),
        "notes": tr("Further remarks"),
        "outside": tr("Outside their range, now or then"),
        "others": tr("All other measures"),
        "range": tr("range that scores nothing"),
        "source": tr("source"),
        "estimated": tr(
            "~ rests on an estimate or an assumption, not on a measurement. ! lies outside its range."
        ),
        "sources": tr("Where the ranges come from"),
        "no_script": tr("Without script the page shows one plan. The table of all budgets has the others."),
    }
