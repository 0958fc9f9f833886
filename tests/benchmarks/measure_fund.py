"""Speed of sharing a fund among drawn applicants, plans and all, as Markdown tables.

    python tests/benchmarks/measure_fund.py 24 100 1000             so many applicants
    python tests/benchmarks/measure_fund.py 100 --seeds 3           three draws of them, each a row
    python tests/benchmarks/measure_fund.py 100 --market stock --market bulk     scarce things; bulk prices
    python tests/benchmarks/measure_fund.py 100 1000 --market stock --distinct   as the command shares
    python tests/benchmarks/measure_fund.py 100 --books             a third own books of drawn thickness
    python tests/benchmarks/measure_fund.py 4 8 16 --one-piece 120  beside one integer program for all
    python tests/benchmarks/measure_fund.py 100 --table t.csv       keep the table of the last run

Workplaces are drawn with seeds (`drawn_applicants.py`); prices are those of the scenario of a fund, patterned
(`price_patterns.py`). Every gain may be paid for, or with `--distinct`, as the command has it, only what
can be told apart from less. Each run has processes of its own. The program for all together
(`fund_in_one_piece.py`) gets the same people, fund and prices; where one of the two finds what the other
calls impossible, no table is worth reading and the run ends with that. Nothing here is a test: a time says
something about a machine, so none is ever asserted.
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import os
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "src"))

from drawn_applicants import applicants, write_table  # noqa: E402
from fund_in_one_piece import OnePiece, fund_in_one_piece  # noqa: E402
from price_patterns import PATTERNS, patterned  # noqa: E402
from process_memory import PeakMemory, alone, largest_process, processor  # noqa: E402

from deskmend.cli.program import RINGS  # noqa: E402
from deskmend.grants.people.columns import WEIGHT_UNIT  # noqa: E402
from deskmend.intake.catalog import load_catalog  # noqa: E402
from deskmend.intake.prices import PriceTable, load_prices  # noqa: E402

PRICES = ROOT / "scenarios" / "relief_fund" / "prices.csv"
SEED = 20_261
EACH = 17
"""Money a person in the fund [major units]: enough for most of what helps most, far from enough for all."""
GRACE = 30.0
"""Seconds after its time is up in which the program for all together may still answer."""
AIMS = {100: 8.0, 1000: 30.0, 10_000: 300.0}
"""Clock that a fund of so many people is meant to take on two cores [s]."""
PATIENCE = 24
"""Most people that one program for all together is tried with, unless asked otherwise."""


@dataclass(frozen=True)
class Run:
    """What is measured once.

    Attributes
    ----------
    count, seed : int
        People, and seed of their draw [-].
    pattern : str
        Of the prices.
    books : bool
        Whether some own books.
    distinct : bool
        Whether only what can be told apart from less may be given.
    """

    count: int
    seed: int
    pattern: str
    books: bool
    distinct: bool

    def prices(self) -> PriceTable:
        """Prices of this run."""
        return patterned(load_prices(PRICES), self.pattern, self.count)


@dataclass(frozen=True)
class Spent:
    """What a piece of work took.

    Attributes
    ----------
    clock, processor : float
        By the clock, and of all processors [s].
    together : int or None
        The most memory of all processes at one time, shared pages once for each; None where not known [kB].
    largest : int
        The most memory of one process [kB].
    """

    clock: float
    processor: float
    together: int | None
    largest: int


@dataclass(frozen=True)
class Shared:
    """What the engine says; strain free and fund are what the program for all together is held against."""

    relief: int
    bound: int
    gap: float | None
    status: str
    strain_free: int
    fund: int


def shared_out(run: Run, seconds: float | None, table: Path) -> tuple[Shared, Spent]:
    """Share a fund once, and tell the parts."""
    from deskmend.grants.fund import fitted, read_wishes, share_fund
    from deskmend.grants.people.plans import PlanBasis
    from deskmend.grants.people.workers import LocalProcesses, People
    from deskmend.intake.applicants import load_applicants

    catalog, prices = load_catalog(), run.prices()
    write_table(table, applicants(run.count, run.seed, run.books), run.seed)
    parts: dict[str, list[float]] = defaultdict(list)
    ask = People._ask

    def timed(self: People, question: Any, arguments: Mapping[str, tuple[Any, ...]]) -> dict[str, Any]:
        start = time.monotonic()
        try:
            return ask(self, question, arguments)
        finally:
            parts[question].append(time.monotonic() - start)

    People._ask = timed  # type: ignore[method-assign]
    with PeakMemory() as memory:
        began, work = time.monotonic(), processor()
        inputs = fitted(load_applicants(table, catalog), prices, catalog)
        read = time.monotonic() - began
        wishes = read_wishes(str(EACH * run.count), prices.currency, every_gain=not run.distinct)
        basis = PlanBasis(catalog, prices, every_gain=wishes.every_gain)
        hands = LocalProcesses(basis, len(os.sched_getaffinity(0)))
        try:
            done = share_fund(inputs.table, prices, wishes, hands, seconds=seconds, catalog=catalog)
            clock = time.monotonic() - began
        finally:
            hands.close()
            # What they took is known only once they have been waited for; and a process that ends in a fault
            # before they have heard that they may go would wait for them for ever.
            for worker in multiprocessing.active_children():
                worker.join()
    asked = sum(sum(taken) for taken in parts.values())
    told = [f"{name}: {len(taken)} calls, {sum(taken):.1f} s" for name, taken in parts.items()]
    told += [f"reading: {read:.1f} s", f"the engine itself: {clock - read - asked:.1f} s"]
    print("  " + "; ".join(told), file=sys.stderr)
    found = done.allocation
    return (
        Shared(
            found.relief,
            found.bound,
            found.gap,
            found.status,
            sum(one.strain_free for one in done.applicants),
            wishes.fund,
        ),
        Spent(clock, processor() - work, memory.most, largest_process()),
    )


def in_one_piece(run: Run, fund: int, seconds: float, table: Path) -> tuple[OnePiece, Spent]:
    """Share the same fund by one integer program."""
    with PeakMemory() as memory:
        began, work = time.monotonic(), processor()
        found = fund_in_one_piece(table, run.prices(), fund, seconds)
        clock = time.monotonic() - began
    print(f"  one piece: {found.columns} columns, {found.rows} rows", file=sys.stderr)
    return found, Spent(clock, processor() - work, memory.most, largest_process())


def agreement(ours: Shared, value: int | None, bound: int | None) -> str:
    """Hold both against each other; the program ends where they cannot both be right.

    Parameters
    ----------
    ours : Shared
        What the engine found and proved.
    value, bound : int or None
        Relief that the program for all together found, and what it says cannot be exceeded.
    """
    if value is not None and value > ours.bound:
        sys.exit(f"one program finds {value}, which the engine calls impossible: {ours.bound}")
    if bound is not None and bound < ours.relief:
        sys.exit(f"the engine finds {ours.relief}, which one program calls impossible: {bound}")
    if value is None:
        return "nothing found by one piece"
    # where both have proven theirs, the two lines above leave only equality
    proven = value == bound, ours.relief == ours.bound
    if all(proven):
        return "equal, both proven"
    if value == ours.relief:
        return "equal, not both proven"
    return "ours more" if value < ours.relief else "one piece more"


def percent(gap: float | None) -> str:
    """A gap as it is shown."""
    return "-" if gap is None else f"{100 * gap:.3f} %"


def megabytes(kilobytes: int | None) -> str:
    """Memory as it is shown."""
    return "not known" if kilobytes is None else f"{kilobytes * 1024 / 1e6:.0f}"


def strain_hours(relief: int | None) -> str:
    """Relief as it is shown [h/day]."""
    return "-" if relief is None else f"{relief / WEIGHT_UNIT / 1e6:.6f}"


def spent_cells(spent: Spent, people: int) -> list[str]:
    """What a run took, in all and for each person."""
    return [
        f"{spent.clock:.1f}",
        f"{spent.clock / people:.3f}",
        f"{spent.processor:.1f}",
        f"{spent.processor / people:.3f}",
        # a peak between two looks is known of the largest process alone
        megabytes(None if spent.together is None else max(spent.together, spent.largest)),
        megabytes(spent.largest),
    ]


NAMED = ("applicants", "seed", "prices", "books", "plans")
SPENT = ("clock [s]", "a person", "processor [s]", "a person", "MB together", "MB, largest process")
HEAD = (*NAMED, *SPENT, "gap", "status", "aim [s]", "aim met")
PIECE = (
    *NAMED,
    "relief [h/day]",
    "bound",
    "clock [s]",
    "one piece: relief",
    "bound",
    "gap",
    *SPENT,
    "compared",
)


def named_cells(run: Run) -> list[str]:
    """What was measured."""
    plans = "distinct" if run.distinct else "every gain"
    return [str(run.count), str(run.seed), run.pattern, "yes" if run.books else "no", plans]


def aim_cells(people: int, clock: float) -> list[str]:
    """What so many people are meant to take, and whether they did."""
    aim = AIMS.get(people)
    if aim is None:
        return ["-", "-"]
    return [f"{aim:.0f}", "yes" if clock <= aim else f"no, {clock / aim:.1f} times"]


def piece_cells(run: Run, ours: Shared, clock: float, seconds: float, table: Path) -> list[str]:
    """Cells of the program for all together, beside the engine's."""
    cells = [*named_cells(run), strain_hours(ours.relief), strain_hours(ours.bound), f"{clock:.1f}"]
    answer = alone(in_one_piece, run, ours.fund, seconds, table, seconds=seconds + GRACE)
    if answer is None:
        return [*cells, *["-"] * (len(PIECE) - len(cells) - 1), f"no answer in {seconds + GRACE:.0f} s"]
    found, spent = answer
    value = None if found.value is None else WEIGHT_UNIT * (ours.strain_free - found.value)
    bound = None if found.bound is None else WEIGHT_UNIT * (ours.strain_free - found.bound)
    gap = None if value is None or value <= 0 or bound is None else (bound - value) / value
    cells += [strain_hours(value), strain_hours(bound), percent(gap)]
    return [*cells, *spent_cells(spent, run.count), agreement(ours, value, bound)]


def line(cells: Sequence[str]) -> str:
    """One line of a Markdown table."""
    return "| " + " | ".join(cells) + " |"


def top(head: Sequence[str]) -> str:
    """The first two lines of a Markdown table."""
    return line(head) + "\n" + line(["---"] * len(head))


def options() -> argparse.ArgumentParser:
    """What can be asked for."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("counts", type=int, nargs="*", default=[24, 100], help="so many applicants")
    asked.add_argument(
        "--seeds", type=int, default=1, metavar="K", help=f"so many draws, from seed {SEED} on"
    )
    asked.add_argument(
        "--market",
        action="append",
        choices=list(PATTERNS),
        help="pattern of the prices, may stand several times; plain if none. "
        + "; ".join(f"{name}: {told}" for name, told in PATTERNS.items()),
    )
    asked.add_argument("--books", action="store_true", help="about a third own one to four books")
    asked.add_argument(
        "--distinct",
        action="store_true",
        help="give only what can be told apart from less, as the command does",
    )
    asked.add_argument("--seconds", type=float, help="time each search may take")
    asked.add_argument(
        "--one-piece",
        type=float,
        metavar="SECONDS",
        help="beside it one integer program for everybody, in at most so much time, building it included",
    )
    asked.add_argument(
        "--one-piece-up-to", type=int, default=PATIENCE, metavar="N", help="with so many people at most"
    )
    asked.add_argument("--table", type=Path, help="keep the last table of applicants here")
    return asked


def main() -> None:
    """Measure what is asked and print the table."""
    # as the command has it; its processes take it over
    gc.set_threshold(*RINGS)
    parser = options()
    given = parser.parse_args()
    if given.seeds < 1 or min(given.counts) < 1:
        parser.error("at least one draw of at least one person is needed")
    if given.distinct and given.one_piece is not None:
        parser.error("the program for all together pays for every gain")
    runs = [
        Run(count, SEED + number, pattern, given.books, given.distinct)
        for pattern in given.market or ["plain"]
        for count in given.counts
        for number in range(given.seeds)
    ]
    print(f"Load of the machine at the start: {os.getloadavg()[0]:.1f}.\n\n{top(HEAD)}", flush=True)
    beside: list[list[str]] = []
    with tempfile.TemporaryDirectory() as folder:
        table = (given.table or Path(folder) / "people.csv").absolute()
        for run in runs:
            answer = alone(shared_out, run, given.seconds, table)
            if answer is None:
                sys.exit("the engine ended without an answer")
            ours, spent = answer
            cells = [*named_cells(run), *spent_cells(spent, run.count), percent(ours.gap), ours.status]
            print(line([*cells, *aim_cells(run.count, spent.clock)]), flush=True)
            if given.one_piece is not None and run.count <= given.one_piece_up_to:
                beside.append(piece_cells(run, ours, spent.clock, given.one_piece, table))
                # the second table comes last; whoever breaks off before has at least seen this
                print("  " + line(beside[-1]), file=sys.stderr)
    if beside:
        print("\n" + "\n".join([top(PIECE), *map(line, beside)]))


if __name__ == "__main__":
    main()
