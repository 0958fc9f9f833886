"""How sure a plan is, as one line for the page with details to fold out."""

from __future__ import annotations

from deskmend.messages import tr
from deskmend.planning.plan import Plan
from deskmend.planning.sure import Sure
from deskmend.report.page_budgets import Fold
from deskmend.report.sure_text import again_words, fix_title, share_words

__all__ = ["sure_folds"]


def sure_folds(sure: Sure, plan: Plan) -> list[Fold]:
    """Put how sure each fix is into a line.

    Parameters
    ----------
    sure : Sure
        For the money and time of the plan.
    plan : Plan
        The plan shown first.
    """
    line = tr(
        "How sure is it? Of {samples} tries with measures and prices a little off, {same} had the same plan.",
        samples=sure.samples,
        same=sure.same_fixes,
    )
    stays = (
        tr("{fix}: stays in {share}.", fix=fix_title(one, plan), share=share_words(one.stays, sure))
        for one in sure.fixes
        if one.planned is not None
    )
    return [Fold(line, (again_words(sure, plan), *stays))]
