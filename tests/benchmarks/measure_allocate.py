"""Speed of the engine that shares a fund, over people whose plans are drawn and kept in memory.

    python tests/benchmarks/measure_allocate.py 1000 10000         so many invented people

What working out real people's plans takes is measured by `measure_fund.py`. Nothing here is a test: a time
says something about a machine, so none is ever asserted.
"""

from __future__ import annotations

import argparse
import random
import resource
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT)]

from tests.grants.engine.listed import ListedPlans, ListedPool  # noqa: E402

from deskmend.grants.engine.share import share  # noqa: E402
from deskmend.grants.people.columns import Applicant, Column  # noqa: E402
from deskmend.grants.terms import FundTerms  # noqa: E402
from deskmend.grants.verify import allocation_faults  # noqa: E402

ITEMS = 25
SCARCE = 4
"""Items with a stock that some would exceed."""
BY_THE_DOZEN = 5
"""Items with two bulk tiers."""
EACH = 4000
"""Money for each person in the fund [minor units]."""


def invented_fund(
    people: int, plans: int, near: bool, seed: int = 1
) -> tuple[list[Applicant], ListedPool, FundTerms]:
    """Draw people whose plans gain less and less for more and more money.

    Parameters
    ----------
    people, plans : int
        How many, and plans of each [-].
    near : bool
        Tiers begin at a tenth and a third of all people, where it is doubtful whether they pay; otherwise at
        10 and 100 packs.
    seed : int
        Of the draw.
    """
    rng = random.Random(seed)
    names = [f"item{number:02d}" for number in range(ITEMS)]
    base = {name: rng.randint(150, 3500) for name in names}
    applicants, known = [], {}
    for number in range(people):
        free = rng.randint(8, 40) * 10**6 + rng.randint(0, 999_999)
        gain = {name: rng.lognormvariate(0, 1) * 1500 for name in names}
        order = sorted(names, key=lambda name: -gain[name] * rng.uniform(0.6, 1.4))
        columns, packs = [Column((), free)], {}
        for step in range(plans - 1):
            packs = dict(packs)
            if packs and rng.random() < 0.15:
                packs.pop(rng.choice(list(packs)))
            name = order[step % 8] if rng.random() < 0.8 else rng.choice(names)
            packs[name] = packs.get(name, 0) + 1
            total = sum(gain[one] * base[one] * (1 - 0.5**count) * 2 for one, count in packs.items())
            columns.append(Column(tuple(sorted(packs.items())), int(free * 2.718 ** (-total / free))))
        one = f"p{number:06d}"
        applicants.append(Applicant(one, free, free))
        known[one] = ListedPlans(columns, base)
    first, second = (max(2, people // 10), max(3, people // 3)) if near else (10, 100)
    terms = FundTerms(
        fund=people * EACH,
        base=base,
        stock={name: max(1, people // 6) for name in names[:SCARCE]},
        tiers={
            name: ((first, base[name] * 85 // 100), (second, base[name] * 7 // 10))
            for name in names[SCARCE - 1 : SCARCE - 1 + BY_THE_DOZEN]
        },
    )
    return applicants, ListedPool(known), terms


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("people", nargs="*", type=int, default=[1000, 10_000])
    parser.add_argument("--plans", type=int, default=20)
    parser.add_argument("--near", action="store_true")
    asked = parser.parse_args()
    print("| people | plans each | time [s] | processor [s] | gap [%] | memory [GB] |")
    print("|---:|---:|---:|---:|---:|---:|")
    for people in asked.people:
        applicants, pool, terms = invented_fund(people, asked.plans, asked.near)
        clock, processor = time.perf_counter(), time.process_time()
        found = share(applicants, pool, terms, questions=False)
        clock, processor = time.perf_counter() - clock, time.process_time() - processor
        faults = allocation_faults(applicants, terms, found)
        if faults:
            sys.exit("\n".join(faults))
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        gap = 100 * (found.gap or 0)
        print(f"| {people} | {asked.plans} | {clock:.1f} | {processor:.1f} | {gap:.4f} | {memory:.2f} |")


if __name__ == "__main__":
    main()
