"""Problems of many people made together, where they can choose among the same.

Nobody's problem depends on who else is there: the tables hold each person's own numbers, and only the calls
that fill them are shared.
"""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.grants.plans import Key, Made, Workshop, case_of
from deskmend.intake.applicant_records import Applicant as Row
from deskmend.planning.cohort_grid import TooManyCells
from deskmend.planning.cohort_model import problems_of
from deskmend.planning.cohorts import Gathering, Member, gathered
from deskmend.planning.inputs import fitting_faults
from deskmend.planning.offers import Offers, offers_for
from deskmend.planning.score import weights_of
from deskmend.workstation.state import state_of

__all__ = ["made_together", "member_of"]

MOST_TOGETHER = 100
"""Most people whose tables are filled at once: beyond, nothing is saved and the tables grow large."""
FEWEST_TOGETHER = 2
"""Whoever can choose among the same as nobody else is modelled alone."""


def made_together(people: Sequence[tuple[Row, Key]], workshop: Workshop) -> dict[str, Made]:
    """Make the problems of those who can choose among the same as others.

    Parameters
    ----------
    people : sequence of (Applicant, tuple)
        Rows, each with the packs given before.
    workshop : Workshop
        Catalog, prices and rules.

    Returns
    -------
    dict of str to Made
        By id; whoever is missing has to be modelled alone.
    """
    rows, members = [], []
    for row, given in people:
        one = member_of(row, workshop, given)
        # Wishes and faults are for the model of one person.
        wishes = one.case.wishes
        if wishes.must or wishes.never or fitting_faults(one.case, workshop.catalog):
            continue
        if len(one.state.places) == 1:
            rows.append(row)
            members.append(one)
    out: dict[str, Made] = {}
    for group in gathered(members):
        for start in range(0, len(group.people), MOST_TOGETHER):
            numbers = group.people[start : start + MOST_TOGETHER]
            if len(numbers) >= FEWEST_TOGETHER:
                mine = [members[k] for k in numbers]
                found = _made(mine, _offers(group, members), workshop)
                out.update(
                    (rows[k].id, one) for k, one in zip(numbers, found, strict=True) if one is not None
                )
    return out


def member_of(row: Row, workshop: Workshop, given: Sequence[tuple[str, int]]) -> Member:
    """Case, state, offers and region weights of a person.

    Parameters
    ----------
    row : Applicant
        The row.
    workshop : Workshop
        Catalog, prices and rules.
    given : sequence of (str, int)
        Packs given before, by item.
    """
    case = case_of(row, workshop, given)
    state = state_of(case)
    offers = offers_for(case, state, workshop.catalog, workshop.listed)
    return Member(case, state, offers, weights_of(case))


def _offers(group: Gathering, members: Sequence[Member]) -> Offers:
    return group.offers(members[group.people[0]].offers)


def _made(members: Sequence[Member], offers: Offers, workshop: Workshop) -> list[Made | None]:
    """Problems of some members; of fewer at once where their tables would be too large."""
    try:
        found = problems_of(members, offers, workshop.listed)
    except TooManyCells:
        half = len(members) // 2
        if not half:
            return [None]
        return [*_made(members[:half], offers, workshop), *_made(members[half:], offers, workshop)]
    return [Made(member, *one) for member, one in zip(members, found, strict=True)]
