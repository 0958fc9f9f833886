"""What a casebook can teach of fixes and ratings, and the counts of it that may leave the room.

The words hold to the largest error that was found, 4 points at the neck: in any region a smaller change of
one person may be error alone. None of them says what the change comes from: people come when it is worst, and
ratings then fall by themselves.

A share is told from `LEAST_CASES` cases on. It is the mean of a beta-binomial: the catalog's figure counts as
so many cases, its weight. Where enough fixes have a share, that weight is found from how far they lie from
their figures, as James and Stein shrink means; else it is a judgement. How people felt is not looked at.

Every row adds up to all persons, so a single count withheld could be worked out from the rest, and two that
stand for four persons together too. In each row the smallest counts are withheld until at least two are, and
until they stand for five persons or more together.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from deskmend.casebook.store import PersonBook, Rating
from deskmend.intake.catalog import Catalog
from deskmend.published import read_table
from deskmend.risk.severity import REGIONS

__all__ = [
    "CLEAR",
    "FELT_GROUPS",
    "FIX_GROUPS",
    "JUDGED_WEIGHT",
    "LEAST_CASES",
    "MAY_BE",
    "SMALLEST_GROUP",
    "FeltChange",
    "FixCount",
    "Learned",
    "Observed",
    "RatingError",
    "SharedCounts",
    "SharedRow",
    "felt_changes",
    "fix_counts",
    "learned_from",
    "prior_weight",
    "rating_errors",
    "shared_counts",
    "shrunk",
    "withheld",
]

MAY_BE = 2
"""Points from which a change may be one: the least important difference of the limbs (Hrvatin and Puh 2021,
doi 10.6016/ZdravVestn.3108; published)."""
CLEAR = 4
"""Points from which a change is clear: least detectable change at the neck (Kovacs and others 2008, doi
10.1186/1471-2474-9-43; published)."""

Clarity = Literal["none", "may_be", "clear"]


@dataclass(frozen=True)
class FeltChange:
    """Two ratings of one region: the first and the last."""

    region: str
    first: Rating
    last: Rating

    @property
    def points(self) -> int:
        """How much less it is now; under 0 where it is more."""
        return self.first.rating - self.last.rating

    @property
    def clarity(self) -> Clarity:
        """How sure it is that anything changed, for one person."""
        moved = abs(self.points)
        return "clear" if moved >= CLEAR else "may_be" if moved >= MAY_BE else "none"


def felt_changes(felt: Sequence[Rating]) -> tuple[FeltChange, ...]:
    """First and last rating of each region that was rated on two days; of a day the last counts."""
    by_region: dict[str, dict[date, Rating]] = {}
    for one in felt:
        by_region.setdefault(one.region, {})[one.day] = one
    return tuple(
        FeltChange(region, rated[min(rated)], rated[max(rated)])
        for region in REGIONS
        if len(rated := by_region.get(region, {})) > 1
    )


@dataclass(frozen=True)
class RatingError:
    """How far ratings of some regions may move by themselves [points]."""

    regions: tuple[str, ...]
    low: float
    high: float
    source: str
    """Key of the catalog's sources."""


def rating_errors(regions: Iterable[str]) -> tuple[RatingError, ...]:
    """What was published of the error of a rating, for these regions; nothing for one without a figure."""
    asked = set(regions)
    found: dict[tuple[str, str, str], list[str]] = {}
    for row in read_table("deskmend.casebook", "rating_errors.csv"):
        if row["region"] in asked and row["source"]:
            found.setdefault((row["low"], row["high"], row["source"]), []).append(row["region"])
    return tuple(
        RatingError(tuple(names), float(low), float(high), source)
        for (low, high, source), names in found.items()
    )


LEAST_CASES = 10
"""Fewest cases from which a share is told."""
JUDGED_WEIGHT = 20.0
"""Cases that the catalog's figure counts for where too few fixes have a share to tell (judgement)."""
LEAST_WEIGHT, MOST_WEIGHT = 5.0, 200.0
"""Bounds of that weight where it is found [cases] (judgement): no figure is ever all or nothing."""
FEWEST_FIXES = 5
"""Fewest fixes from whose shares the weight is found (judgement)."""


@dataclass(frozen=True)
class Observed:
    """How many of some cases came out one way, and the share expected before [-]."""

    cases: int
    counted: int
    expected: float

    @property
    def share(self) -> float:
        """Share counted."""
        return self.counted / self.cases


def prior_weight(observed: Sequence[Observed], fitted: int = 0) -> float:
    """How many cases the shares expected count for, found from how far those counted lie from them.

    The weight w at which the squared distances, each over its variance with w, add up to as many as there are
    shares, less two, and less one more where the shares expected are `fitted`, their mean. With equal cases
    this is the estimator of James and Stein: the distance from the mean is shrunk by ``n / (n + w)``.

    Source: efron_morris_1977, Scientific American 236(5):119-127, whose factor 0.212 for 18 batters at 45
    bats it gives again; confirmed.
    """
    free = len(observed) - 2 - fitted
    if free <= 0:
        raise ValueError(f"observed: read {len(observed)} shares, allowed {3 + fitted} or more")

    def distance(weight: float) -> float:
        return sum(
            (one.share - one.expected) ** 2
            / (one.expected * (1.0 - one.expected) / one.cases * (weight + one.cases) / weight)
            for one in observed
        )

    low, high = 1e-6, 1e9
    if distance(high) <= free:
        return math.inf
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if distance(middle) < free else (low, middle)
    return math.sqrt(low * high)


def shrunk(one: Observed, weight: float) -> float:
    """Mean of the beta-binomial: the share counted, and the one expected counted as `weight` cases."""
    if math.isinf(weight):
        return one.expected
    return (one.counted + weight * one.expected) / (one.cases + weight)


@dataclass(frozen=True)
class FixCount:
    """What became of one fix, in persons: those it was planned for, who did it, who still uses it."""

    fix: str
    planned: int
    done: int
    kept: int

    @property
    def given_up(self) -> int:
        """Persons who did it and gave it up."""
        return self.done - self.kept


@dataclass(frozen=True)
class Learned:
    """What is learned of one fix.

    - `prior`: the catalog's figure, or the mean of the other fixes here where it has none.
    - `from_catalog`: whether the catalog has a figure.
    - `weight`: how many cases that counts for.
    - `share`: part of those who did it who still use it.
    """

    count: FixCount
    prior: float
    from_catalog: bool
    weight: float
    share: float


def fix_counts(persons: Sequence[PersonBook]) -> tuple[FixCount, ...]:
    """Count each fix once a person, by name of the fix.

    Whoever did one fix at several places counts as still using it where it is in use at any of them.
    """
    planned: dict[str, set[str]] = {}
    done: dict[str, set[str]] = {}
    kept: dict[str, set[str]] = {}
    for person in persons:
        for visit in person.visits:
            for step in visit.steps:
                planned.setdefault(step.fix, set()).add(person.key)
        for one in person.done:
            done.setdefault(one.fix, set()).add(person.key)
        for last in person.last_of_each().values():
            if last.state == "kept":
                kept.setdefault(last.fix, set()).add(person.key)
    return tuple(
        FixCount(fix, *(len(where.get(fix, ())) for where in (planned, done, kept)))
        for fix in sorted(planned.keys() | done.keys())
    )


def learned_from(counts: Sequence[FixCount], catalog: Catalog) -> tuple[Learned, ...]:
    """Shares of the fixes with enough cases, each beside the catalog's figure and its weight."""
    enough = [one for one in counts if one.done >= LEAST_CASES]
    if not enough:
        return ()
    known = {
        fix.id: fix.kept_up.share
        for fix in catalog.fixes
        if fix.kept_up is not None and 0.0 < fix.kept_up.share < 1.0
    }
    rest = [one for one in enough if one.fix not in known]
    cases = sum(one.done for one in rest)
    # half a case each way keeps a mean of none or all off the ends
    mean = (sum(one.kept for one in rest) + 0.5) / (cases + 1.0)
    observed = [Observed(one.done, one.kept, known.get(one.fix, mean)) for one in enough]
    weight = JUDGED_WEIGHT
    if len(enough) >= FEWEST_FIXES:
        weight = min(max(prior_weight(observed, 1 if rest else 0), LEAST_WEIGHT), MOST_WEIGHT)
    return tuple(
        Learned(count, one.expected, count.fix in known, weight, shrunk(one, weight))
        for count, one in zip(enough, observed, strict=True)
    )


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
