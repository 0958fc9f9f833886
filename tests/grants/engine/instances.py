"""Invented funds: people with written plans, drawn from a seed."""

from __future__ import annotations

import random
from fractions import Fraction

from deskmend.grants.people.columns import Applicant, Column
from deskmend.grants.terms import FundTerms, ScoreLimit

from .listed import ListedPlans, ListedPool

Fund = tuple[list[Applicant], ListedPool, FundTerms]


def invented(
    seed: int,
    people: int,
    *,
    items: int = 4,
    plans: int = 4,
    stock: bool = True,
    tiers: bool = True,
    policy: str = "most_relief",
    cap: bool = False,
    floor: bool = False,
    shares: bool = False,
    weights: bool = False,
    part: float = 0.4,
    spare: bool = False,
) -> Fund:
    """Draw a fund; `part` is the money there is for what everybody's dearest plans would cost."""
    rng = random.Random(seed)
    names = [f"item{k}" for k in range(items)]
    base = {name: rng.randint(3, 40) * 10 + rng.randint(0, 9) for name in names}
    applicants, known = [], {}
    dearest = 0
    for number in range(people):
        free = rng.randint(5, 40) * 100_000 + rng.randint(0, 9999)
        columns = [Column((), free, score=7)]
        for _ in range(rng.randint(1, plans)):
            used = {name: rng.randint(1, 2) for name in rng.sample(names, rng.randint(1, min(3, items)))}
            worth = sum(base[name] * count for name, count in used.items())
            left = max(0, free - rng.randint(200, 6000) * worth)
            columns.append(Column(tuple(sorted(used.items())), left, score=rng.randint(3, 7)))
        one = f"p{number:04d}"
        applicants.append(
            Applicant(
                one,
                free + rng.randint(0, 10**6),
                free,
                weight=rng.choice([500, 1000, 1500]) if weights else 1000,
                group=rng.choice(["a", "b", None]),
                score_free=7,
            )
        )
        known[one] = ListedPlans(columns, base)
        dearest += max(column.cost(base) for column in columns)
    rng.shuffle(applicants)
    per_item = {
        name: sum(max(dict(c.packs).get(name, 0) for c in known[a.id].plans) for a in applicants)
        for name in names
    }
    terms = FundTerms(
        fund=int(dearest * part),
        base=base,
        stock={name: rng.randint(1, max(1, per_item[name] * 2 // 3)) for name in names[:2]} if stock else {},
        tiers={
            name: (
                (max(2, per_item[name] // 4), base[name] * 4 // 5),
                (max(3, per_item[name] // 2), base[name] * 3 // 5),
            )
            for name in names[1:3]
        }
        if tiers
        else {},
        policy=policy,  # type: ignore[arg-type]
        limit=ScoreLimit("strain", 1_500_000) if policy == "most_people" else None,
        cap=rng.randint(200, 500) if cap else None,
        floor=rng.randint(20, 100) if floor else None,
        spare={name: rng.randint(0, 2) for name in names} if spare else {},
        group_share={"a": Fraction(1, 3), "b": Fraction(1, 4)} if shares else {},
    )
    return applicants, ListedPool(known), terms
