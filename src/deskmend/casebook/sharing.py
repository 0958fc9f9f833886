"""Counts of a casebook that may leave the room: no group of fewer than five persons can be read from them.

Every row adds up to all persons, so a single count withheld could be worked out from the rest, and two that
stand for four persons together too. In each row the smallest counts are withheld until at least two are, and
until they stand for five persons or more together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from deskmend.casebook.felt import felt_changes
from deskmend.casebook.learning import fix_counts
from deskmend.casebook.store import PersonBook

__all__ = [
    "FELT_GROUPS",
    "FIX_GROUPS",
    "SMALLEST_GROUP",
    "SharedCounts",
    "SharedRow",
    "shared_counts",
    "withheld",
]

SMALLEST_GROUP = 5
"""Fewest persons that a group may have to be told."""

FIX_GROUPS = ("still_used", "given_up", "not_done", "not_planned")
"""What became of a fix; everybody is in one of them."""
FELT_GROUPS = (
    "clearly_less",
    "may_be_less",
    "no_clear_change",
    "may_be_more",
    "clearly_more",
    "not_rated_twice",
)
"""How ratings of a region changed; everybody is in one of them."""


@dataclass(frozen=True)
class SharedRow:
    """Persons by group; None where the count is withheld."""

    name: str
    groups: Mapping[str, int | None]


@dataclass(frozen=True)
class SharedCounts:
    """What may be shared: nothing but these counts.

    - `persons`: None where there are too few to tell anything.
    - `fixes`, `felt`: rows that add up to all persons; those of which nothing could be told are left out.
    """

    persons: int | None
    fixes: tuple[SharedRow, ...]
    felt: tuple[SharedRow, ...]


def withheld(groups: Mapping[str, int]) -> dict[str, int | None]:
    """Counts of groups that add up to a total that is known, with those withheld that it would reveal."""
    rising = sorted(groups, key=lambda name: (groups[name], list(groups).index(name)))
    hidden: list[str] = [name for name in rising if groups[name] < SMALLEST_GROUP]
    for name in rising[len(hidden) :] if hidden else ():
        if len(hidden) > 1 and sum(groups[one] for one in hidden) >= SMALLEST_GROUP:
            break
        hidden.append(name)
    return {name: None if name in hidden else count for name, count in groups.items()}


def shared_counts(persons: Sequence[PersonBook]) -> SharedCounts:
    """Counts of a casebook that may be shared."""
    everybody = len(persons)
    if everybody < SMALLEST_GROUP:
        return SharedCounts(None, (), ())
    fixes = []
    for one in fix_counts(persons):
        asked = _asked(persons, one.fix)
        groups = (one.kept, one.given_up, asked - one.done, everybody - asked)
        fixes.append((one.fix, dict(zip(FIX_GROUPS, groups, strict=True))))
    changes = Counter(
        (change.region, _group(change.points, change.clarity))
        for person in persons
        for change in felt_changes(person.felt)
    )
    felt = []
    for region in dict.fromkeys(region for region, _ in changes):
        groups_of = {group: changes[region, group] for group in FELT_GROUPS[:-1]}
        felt.append((region, groups_of | {FELT_GROUPS[-1]: everybody - sum(groups_of.values())}))
    return SharedCounts(everybody, _rows(fixes), _rows(felt))


def _asked(persons: Sequence[PersonBook], fix: str) -> int:
    """Persons for whom a fix was planned, or who did it unasked."""
    return sum(
        any(step.fix == fix for visit in person.visits for step in visit.steps)
        or any(one.fix == fix for one in person.done)
        for person in persons
    )


def _group(points: int, clarity: str) -> str:
    if clarity == "none":
        return "no_clear_change"
    return ("clearly_" if clarity == "clear" else "may_be_") + ("less" if points > 0 else "more")


def _rows(counted: Iterable[tuple[str, Mapping[str, int]]]) -> tuple[SharedRow, ...]:
    """Rows with what must be withheld; a row without any other figure would tell that somebody had it."""
    rows = [SharedRow(name, withheld(groups)) for name, groups in counted]
    return tuple(row for row in rows if any(count is not None for count in row.groups.values()))
