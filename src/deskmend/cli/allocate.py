"""``deskmend allocate``."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.files import refuse_folder, write_folder
from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit

if TYPE_CHECKING:
    from deskmend.grants.people.plans import PlanBasis
    from deskmend.grants.people.workers import Workers
    from deskmend.grants.terms import Progress

_FEW = 6
"""Applicants up to which other processes take longer to start than they save."""


@click.command("allocate", short_help="Share a fund among many applicants, with proof.")
@click.argument("applicants", metavar="APPLICANTS")
@click.option("--fund", metavar="A", help="Money to share, as 5000.00; what --already gave included.")
@click.option(
    "--policy",
    metavar="P",
    default="most_relief",
    help="most_relief (the default), most_people (brought under --limit) or worst_off_first.",
)
@click.option(
    "--limit",
    metavar="SCORE=VALUE",
    multiple=True,
    help="For most_people: strain=VALUE in strain-hours a day, or a score, as rosa=4 or rula=3.",
)
@click.option("--cap", metavar="A", help="Most for one person in this round, at listed prices.")
@click.option("--floor", metavar="A", help="Least for each person whom that much can help.")
@click.option(
    "--group-share",
    metavar="G=PART",
    multiple=True,
    help="Keep this part of the fund for a group, as shop=0.25; what it does not use stays. Repeatable.",
)
@click.option(
    "--already", metavar="FILE", help="allocation.csv of an earlier round: keep it and share the rest."
)
@click.option("--skip-invalid", is_flag=True, help="Set rows with faults aside in rejected.csv, and go on.")
@click.option(
    "--use-discomfort", is_flag=True, help="Let parts of the body that trouble a person count for more."
)
@click.option(
    "--every-gain",
    is_flag=True,
    help="Let money go for every gain, also where a plan cannot be told from a cheaper one of the person.",
)
@click.option("--letters", is_flag=True, help="Write one short letter a person.")
@click.option("--contact", metavar="TEXT", help="Whom letters say to ask, as a name and a telephone number.")
@click.option("--cluster", metavar="ADDRESS", help="Work on a Dask cluster, as tcp://10.0.0.5:8786.")
@click.option(
    "--time",
    "seconds",
    metavar="S",
    type=click.FloatRange(min=0, min_open=True, max=1_000_000),
    help="Most seconds to search; without it the search goes on until the result is proven.",
)
@click.option(
    "--out", metavar="DIR", default="allocation", help="New folder for the files; allocation if left out."
)
@shared("catalog", "prices", "today")
def allocate_command(
    given: Shared,
    applicants: str,
    fund: str | None,
    policy: str,
    limit: tuple[str, ...],
    cap: str | None,
    floor: str | None,
    group_share: tuple[str, ...],
    already: str | None,
    skip_invalid: bool,
    use_discomfort: bool,
    every_gain: bool,
    letters: bool,
    contact: str | None,
    cluster: str | None,
    seconds: float | None,
    out: str,
) -> int:
    """Share a fund among many applicants.

    APPLICANTS is a table with one row a person: CSV, XLSX or Parquet; deskmend new --applicants FILE writes
    an empty one. Each person's plans are worked out exactly; then money, stock and tier prices are shared by
    the policy, and a bound proves how good that is. Files are written whole or not at all. Ctrl-C ends the
    search with the best so far. Exit code 1: the floor cannot be kept. Exit code 3: the search ended early;
    the gap is told.
    """
    from deskmend.grants.fund import load_inputs, read_wishes, share_fund
    from deskmend.grants.people.plans import PlanBasis
    from deskmend.intake.given_before import load_given
    from deskmend.planning.goals import split_goals
    from deskmend.report.allocation import allocation_document, allocation_files, allocation_text

    folder = Path(out)
    refuse_folder(folder)
    catalog = given.catalog()
    inputs = load_inputs(applicants, catalog, given.price_file, skip_invalid, given.today)
    wishes = read_wishes(
        fund,
        inputs.prices.currency,
        policy,
        split_goals(limit),
        cap,
        floor,
        split_goals(group_share),
        use_discomfort,
        every_gain,
    )
    before = None if already is None else load_given(already, inputs.prices)
    given.remark(inputs.warnings)
    basis = PlanBasis(catalog, inputs.prices, use_discomfort, wishes.kept, wishes.every_gain)
    teller = _Teller(wishes.policy, given.quiet)
    workers = _workers(basis, len(inputs.table.people), cluster)
    try:
        done = share_fund(
            inputs.table,
            inputs.prices,
            wishes,
            workers,
            before,
            teller.watch,
            teller.done,
            seconds,
            letters,
            inputs.warnings,
            catalog=catalog,
        )
    finally:
        teller.end()
        workers.close()
    write_folder(folder, allocation_files(done, catalog, letters, contact))
    given.answer(
        lambda: allocation_document(done, catalog), lambda: emit(allocation_text(done, catalog, out))
    )
    return output.NOT_PROVEN if done.allocation.status == "not_proven" else output.DONE


def _workers(basis: PlanBasis, people: int, cluster: str | None) -> Workers:
    if cluster is not None:
        from deskmend.grants.people.cluster import Cluster

        return Cluster(basis, cluster)
    from deskmend.grants.people.workers import InProcess, LocalProcesses

    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    count = min(processors, people)
    return InProcess(basis) if count == 1 or people <= _FEW else LocalProcesses(basis, count)


class _Teller:
    """Tells on stderr how far the work is: lines at each stage, and a running count at a terminal."""

    def __init__(self, policy: str, quiet: bool) -> None:
        self.policy = policy
        self.quiet = quiet
        self.live = not quiet and sys.stderr.isatty()
        self.last = ""
        self.drawn = 0

    def watch(self, progress: Progress) -> None:
        """Tell a new stage, or a better value or bound."""
        from deskmend.report.allocation import progress_text

        told = progress_text(progress, self.policy)
        if self.quiet or told == self.last:
            return
        self.last = told
        self._clear()
        click.echo(told, err=True)

    def done(self, count: int, of: int) -> None:
        """Draw how many people are done, at a terminal."""
        if self.live:
            told = f"{self.last or '...'}: {count} / {of}"
            sys.stderr.write("\r" + told.ljust(self.drawn))
            sys.stderr.flush()
            self.drawn = len(told)

    def _clear(self) -> None:
        if self.drawn:
            sys.stderr.write("\r" + " " * self.drawn + "\r")
            self.drawn = 0

    def end(self) -> None:
        """Leave the line clean."""
        self._clear()
        sys.stderr.flush()
