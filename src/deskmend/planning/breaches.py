"""Checking a set of fixes against every rule, from plain numbers: no table, no optimiser."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from deskmend.intake.catalog_records import Fix
from deskmend.messages import tr
from deskmend.planning.conditions import (
    Gate,
    least_clearance,
    levels_of,
    need_met,
    not_for,
    predicates_of,
    rule_contexts,
    values_of,
)
from deskmend.workstation.state import Owner, State, evaluate

__all__ = ["Breach", "breaches", "get_in_the_way"]


def get_in_the_way(one: Owner, other: Owner) -> bool:
    """Whether fixes of two owners can get in each other's way."""
    return one == other or one[0] != other[0] or one[0] in ("person", "device")


@dataclass(frozen=True)
class Breach:
    """A rule that a chosen fix breaks."""

    fix: Fix
    owner: Owner
    reason: str


def breaches(before: State, after: State, chosen: Iterable[tuple[Fix, Owner]]) -> list[Breach]:
    """Rules that a set of fixes breaks, found from plain numbers, without any table.

    Parameters
    ----------
    before, after : State
        State without and with the fixes.
    chosen : iterable of (Fix, Owner)
        The fixes.

    Returns
    -------
    list of Breach
        Empty where all is well.
    """
    out: list[Breach] = []
    taken = list(chosen)

    def here(task: str) -> list[tuple[str, Gate | None]]:
        return [(after.place_of[task], None)]

    for fix, owner in taken:
        for need in fix.needs:
            levels = {level for p in predicates_of(need) for level in levels_of(p.name)}
            for task, place, _ in rule_contexts(owner, levels, here, after):
                values = values_of(evaluate(after, task, place), predicates_of(need))
                if not bool(need_met(need, values)):
                    out.append(Breach(fix, owner, tr(need.why)))
        why = not_for(fix, owner, before)
        if why is not None:
            out.append(Breach(fix, owner, tr(why)))
        out.extend(
            Breach(fix, owner, tr("it cannot go together with {rival}", rival=tr(rival.title)))
            for rival, other in taken
            if rival.id in fix.conflicts and (rival, other) != (fix, owner) and get_in_the_way(owner, other)
        )
    used = dict.fromkeys(after.place_of.values())
    for place in used:
        evaluation = evaluate(after, after.tasks[0], place)
        if float(evaluation("stand_share")) < 1.0 and evaluation("clearance") < least_clearance(
            before, place
        ):
            out.extend(
                Breach(fix, owner, tr("the legs would no longer fit under the desk"))
                for fix, owner in taken
                if owner in (("place", place), ("person", ""), ("device", ""))
            )
    return list(dict.fromkeys(out))
