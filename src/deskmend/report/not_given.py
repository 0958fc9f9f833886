"""Why somebody is given nothing, in words: for whoever shares the fund, and in the person's letter."""

from __future__ import annotations

from deskmend.grants.fund import FundShared
from deskmend.grants.terms import Hindrance, Waiting
from deskmend.language import tr
from deskmend.report.words import money_text

__all__ = ["funds_to_wait_for", "not_given", "not_this_time", "nothing_helps", "why_at_any_fund"]

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
