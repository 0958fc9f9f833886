"""Why somebody is given nothing, and what people decided for somebody, and what that takes from others."""

from __future__ import annotations

from datetime import date

from deskmend.errors import visible
from deskmend.grants.fund import FundShared
from deskmend.grants.people.columns import WEIGHT_UNIT
from deskmend.grants.terms import Hindrance, Waiting
from deskmend.intake.applicants import Decided
from deskmend.language import shown_day, tr
from deskmend.report.layout import Page
from deskmend.report.words import money_text, strain_text

__all__ = [
    "decided_by",
    "decided_text",
    "funds_to_wait_for",
    "not_given",
    "not_this_time",
    "nothing_helps",
    "why_at_any_fund",
    "write_decided",
]

MOST_LISTED = 10
"""Most people named on the page; all stand in the files."""


def decided_text(decided: Decided) -> str:
    """What people decided for somebody and why, in the words of the table."""
    told = {
        "fixed": " ".join(decided.fixed),
        "never": " ".join(decided.never),
        "least": decided.least,
        "most": decided.most,
    }
    what = "; ".join(f"{key} {value}" for key, value in told.items() if value)
    who = decided_by(decided)
    return f"{what}: {decided.reason}" + (f" ({who})" if who else "")


def decided_by(decided: Decided) -> str:
    """Who decided and on which day, as far as the table tells."""
    day = shown_day(date.fromisoformat(decided.on)) if decided.on else ""
    return ", ".join(part for part in (decided.by, day) if part)


def write_decided(page: Page, shared: FundShared) -> None:
    """What people decided, why, and what it takes from the others."""
    found = [(row.id, row.decided) for row in shared.table.people if row.decided is not None]
    if not found:
        return
    page.heading(tr("Decided by people, not by the search"))
    for name, decided in found[:MOST_LISTED]:
        page.point("-", visible(f"{name}: {decided_text(decided)}", None))
    if len(found) > MOST_LISTED:
        page.point("-", tr("{count} more in people.csv.", count=len(found) - MOST_LISTED))
    cost = shared.decided_cost
    if cost is None:
        page.paragraph(tr("What this takes from the others is not worked out."))
    elif cost > 0:
        page.paragraph(
            tr(
                "For the others {less} strain-hours a day less are taken off by this.",
                less=hours_text(cost),
            )
        )
    elif cost < 0:
        page.paragraph(
            tr(
                "For the others {more} strain-hours a day more are taken off by this.",
                more=hours_text(-cost),
            )
        )
    else:
        page.paragraph(tr("For the others as much is taken off as without it."))
    if (whole := shared.decided_cost_in_all) is not None and whole != cost:
        told = tr(
            "With those for whom it was decided it is {less} strain-hours a day less.",
            less=hours_text(whole),
        )
        if whole < 0:
            told = tr(
                "With those for whom it was decided it is {more} strain-hours a day more.",
                more=hours_text(-whole),
            )
        elif not whole:
            told = tr("With those for whom it was decided it is as much as without it.")
        page.paragraph(told)


def hours_text(exact: int, decimals: int = 1) -> str:
    """Strain times weights, as strain-hours of people who count once."""
    return strain_text(exact // WEIGHT_UNIT, decimals)


NOT_GIVEN: dict[Hindrance, str] = {
    "no_help": "nothing on offer takes off more than what is free",
    "decided": "people decided so: without that something would help",
    "cap": "what would help costs more than one person may be given",
    "stock": "there are not enough of the things that would help",
    "group_cap": "what would help comes to more than may be given to their group, all rounds together",
    "share": "what would pay for it is kept for other groups",
    "weight": "the table lets this person count for nothing",
    "money": "there is not enough money",
    "missed": "it could be given, but the search, which is not proven best, has not found it",
    "not_asked": "not looked into, since so many wait",
    "broken_off": "not looked into, since the search was broken off",
}
"""Why somebody is given nothing, for whoever shares the fund."""
CAPPED_BEFORE = (
    "what would help costs more than is left, after earlier rounds, of what one person may be given"
)
"""The third of them where it is what earlier rounds gave that leaves too little."""
TOLD_APART = "nothing on offer takes off so much more than what is free that it can be told"
"""The first of them where money goes only for what can be told."""
NOT_THIS_TIME: dict[Hindrance, str] = {
    "money": "There was not enough money for everybody.",
    "stock": "There were not enough of the things that would help you.",
    "decided": "It was decided so for you in this round. Ask us for the reason.",
    "cap": "What would help you costs more than may be given to one person.",
    "group_cap": "What would help you comes to more than may be given to your group.",
    "share": "The money that could pay for it is kept for other groups.",
    "weight": "By the list that we worked from, your request does not count in this round.",
    "missed": "In this round the things went to others.",
    "not_asked": "Why is not worked out yet. Ask us, and we find out.",
    "broken_off": "Why is not worked out yet. Ask us, and we find out.",
}
"""Why nothing is bought for somebody whom something could help, in the letter."""
CAPPED_BEFORE_THIS_TIME = (
    "With what you were given before, what would help you costs more than may be given to one person."
)
"""The same where earlier rounds leave too little of a cap over all of them."""


def nothing_helps(shared: FundShared) -> str:
    """That nothing on offer would help, as it is meant by what is offered."""
    return tr(NOT_GIVEN["no_help"] if shared.wishes.every_gain else TOLD_APART)


def not_given(waiting: Waiting, shared: FundShared) -> str:
    """Why somebody is given nothing, with the fund at which they would be."""
    why = nothing_helps(shared) if waiting.why == "no_help" else tr(NOT_GIVEN[waiting.why])
    if waiting.why == "cap" and shared.earlier_rounds_cap(waiting.id):
        why = tr(CAPPED_BEFORE)
    if (funds := funds_to_wait_for(waiting, shared)) is None:
        return why
    told = tr("with a fund of {low} still not served, with one of {high} served", low=funds[0], high=funds[1])
    return f"{why}; {told}"


def why_at_any_fund(waiting: Waiting, shared: FundShared) -> str:
    """Why somebody is given nothing, and where no fund would change it, that too."""
    why = not_given(waiting, shared)
    if waiting.why in ("no_help", "decided", "cap", "weight"):
        return f"{why}; {tr('a larger fund would not change that')}"
    return why


def not_this_time(waiting: Waiting, shared: FundShared) -> str:
    """The same in the person's letter, without any sum."""
    if waiting.why == "no_help":
        if shared.wishes.every_gain:
            return tr("We looked, and found nothing to buy that would help you more than what costs nothing.")
        return tr("We looked, and found nothing to buy that would help you by so much that it can be told.")
    capped = waiting.why == "cap" and shared.earlier_rounds_cap(waiting.id)
    return tr(CAPPED_BEFORE_THIS_TIME if capped else NOT_THIS_TIME[waiting.why])


def funds_to_wait_for(waiting: Waiting, shared: FundShared) -> tuple[str, str] | None:
    """Funds, all rounds together, of which the first does not serve somebody yet and the second does."""
    if waiting.fund is None or waiting.not_at is None:
        return None
    before, currency = shared.given.spent, shared.currency
    return money_text(waiting.not_at + before, currency), money_text(waiting.fund + before, currency)
