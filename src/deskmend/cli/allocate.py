"""``deskmend allocate``: a fund shared, its folder checked, its ledger told, kept and undone."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.output import Shared, emit, refuse_folder, shared, write_folder_or_another, write_over
from deskmend.errors import InputFaults, option_fault, read_each
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.grants.fund import FundWishes
    from deskmend.grants.people.plans import PlanBasis
    from deskmend.grants.people.workers import Workers
    from deskmend.grants.terms import Progress, ReasonsFor
    from deskmend.intake.case_file import Sender


def without_applicants(
    given: Shared,
    ledger: str | None,
    check: str | None,
    undo: bool,
    entries: str | None,
    strike: str | None,
) -> int:
    """Do the one thing that was asked; `InputFaults` where it is none, or several."""
    asked = [name for name, one in (("--check", check), ("--undo", undo), ("--entries", entries),
                                    ("--strike", strike)) if one]  # fmt: skip
    if len(asked) > 1:
        raise InputFaults([option_fault(asked[1], None, f"one thing at a time, and not {asked[0]} as well")])
    if check is not None:
        return check_folder(given, check, ledger)
    if ledger is None:
        where, allowed = (asked[0], "--ledger FILE beside it") if asked else (
            "APPLICANTS", "a table of applicants; or --check FOLDER, or --ledger FILE alone"
        )  # fmt: skip
        raise InputFaults([option_fault(where, None, allowed)])
    return _ledger(given, ledger, undo, entries, strike)


def check_folder(given: Shared, folder: str, ledger: str | None = None) -> int:
    """Confirm a written folder, or refute it with every fault; a ledger has to hold its round."""
    from deskmend.intake.catalog import catalog_digest, file_digest
    from deskmend.intake.ledger import load_ledger
    from deskmend.report.decision import folder_faults, ledger_faults

    found, decision = folder_faults(folder)
    for option, key, digest in (
        ("--prices", "prices", None if given.price_file is None else file_digest(given.price_file)),
        ("--catalog", "catalog", None if given.catalog_folder is None else catalog_digest(given.catalog())),
    ):
        if digest is not None and digest != ((decision.get(key) or {}).get("sha256")):
            path = given.price_file if option == "--prices" else given.catalog_folder
            note = "is not what the fund was shared with"
            found.append(option_fault(option, path, "the same as then", note=note))
    if ledger is not None:
        found += ledger_faults(folder, decision, load_ledger(ledger))
    if found:
        raise InputFaults(found)
    count = len(decision["files"])
    told = tr(
        "Confirmed: {folder} is as it was written, {count} files, and what they say adds up.",
        folder=folder,
        count=count,
    )
    given.answer(
        lambda: {
            "format": "deskmend-folder-check/1",
            "folder": folder,
            "confirmed": True,
            "files": count,
        },
        lambda: emit(f"{told}\n"),
    )
    return output.DONE


def _ledger(given: Shared, path: str, undo: bool, entries: str | None, strike: str | None) -> int:
    from deskmend.grants.rounds import taken_back
    from deskmend.intake.ledger import ledger_text, load_entries, load_ledger, struck_out
    from deskmend.report.decision import ledger_document, ledger_page, round_taken_back

    before = after = load_ledger(path)
    told = ""
    if undo:
        after, last = taken_back(before, given.today)
        if last is None:
            raise InputFaults([option_fault("--undo", None, "a ledger with a round that counts")])
        told = round_taken_back(last)
    elif entries is not None:
        after = load_entries(entries, before, given.catalog())
    elif strike is not None:
        after = struck_out(before, strike)
    if after is not before:
        write_over(Path(path), ledger_text(after), before.digest)
    given.answer(
        lambda: ledger_document(after),
        lambda: emit((f"{told}\n" if told else "") + ledger_page(after, given.catalog())),
    )
    return output.DONE


_FEW = 6
"""Applicants up to which other processes take longer to start than they save."""


@click.command("allocate", short_help="Share a fund among many applicants, with proof.")
@click.argument("applicants", metavar="[APPLICANTS]", required=False)
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
@click.option(
    "--cap-in-all",
    metavar="A",
    help="Most for one person in all rounds: what was paid for them before, and this one at listed prices.",
)
@click.option("--floor", metavar="A", help="Least for each person whom that much can help.")
@click.option(
    "--group-share",
    metavar="G=PART",
    multiple=True,
    help="Keep this part of the fund for a group, as shop=0.25; what it does not use stays. Repeatable.",
)
@click.option(
    "--group-cap",
    metavar="G=A",
    multiple=True,
    help="Most for all people of a group in all rounds, as shop=500.00; counted as --cap-in-all. Repeatable.",
)
@click.option(
    "--already", metavar="FILE", help="allocation.csv of an earlier round: keep it and share the rest."
)
@click.option(
    "--ledger",
    metavar="FILE",
    help="File that keeps all rounds: begin from what it says, add this one.",
)
@click.option("--undo", is_flag=True, help="Take the last round of --ledger back; without APPLICANTS.")
@click.option(
    "--entries",
    metavar="FILE",
    help="Add to --ledger what happened since: things returned, people who left; without APPLICANTS.",
)
@click.option(
    "--strike", metavar="ID", help="Strike a person out of --ledger; all sums stay. Without APPLICANTS."
)
@click.option(
    "--check",
    metavar="FOLDER",
    help="Confirm or refute a folder that allocate wrote, with --ledger also by that; without APPLICANTS.",
)
@click.option(
    "--columns",
    metavar="FILE",
    help="Our names for the columns of the table, a line each: Height of the desk -> desk.height.",
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
@click.option("--letters", is_flag=True, help="Write one short letter a person, if the search is finished.")
@click.option(
    "--unfinished-letters", is_flag=True, help="Write letters also of a search that was broken off."
)
@click.option(
    "--reasons",
    type=click.Choice(["few", "each", "all"]),
    default="few",
    help="Whom to say why they are given nothing, and from which fund: few (the default) where they are few; "
    "each of a large fund too, as letters do; all shares a large fund again for it, which takes long.",
)
@click.option("--contact", metavar="TEXT", help="Whom letters say to ask, as a name and a telephone number.")
@click.option(
    "--sender",
    "sender_file",
    metavar="FILE",
    help="Who sends letters and lists: a file of format deskmend-sender/1.",
)
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
    applicants: str | None,
    fund: str | None,
    policy: str,
    limit: tuple[str, ...],
    cap: str | None,
    cap_in_all: str | None,
    floor: str | None,
    group_share: tuple[str, ...],
    group_cap: tuple[str, ...],
    already: str | None,
    ledger: str | None,
    undo: bool,
    entries: str | None,
    strike: str | None,
    check: str | None,
    columns: str | None,
    skip_invalid: bool,
    use_discomfort: bool,
    every_gain: bool,
    letters: bool,
    unfinished_letters: bool,
    reasons: ReasonsFor,
    contact: str | None,
    sender_file: str | None,
    cluster: str | None,
    seconds: float | None,
    out: str,
) -> int:
    """Share a fund among many applicants.

    APPLICANTS is a table with one row a person: CSV, XLSX or Parquet; deskmend new --applicants FILE writes
    an empty one. Each person's plans are worked out exactly; then money, stock and tier prices are shared by
    the policy, and a bound proves how good that is. Files are written whole or not at all. Ctrl-C ends the
    search with the best so far, or with nothing written where no plans are known yet. Exit code 1: the floor
    cannot be kept. Exit code 3: the search ended early; the gap is told. Without APPLICANTS, --check FOLDER
    holds a written folder against its record, and --ledger FILE alone tells what all rounds come to.
    """
    if applicants is None:
        return without_applicants(given, ledger, check, undo, entries, strike)
    _refuse_beside(applicants, ledger, already, (check, undo, entries, strike))
    from deskmend.grants.fund import load_inputs, read_wishes, share_fund
    from deskmend.grants.people.plans import PlanBasis
    from deskmend.intake.applicants import load_column_map
    from deskmend.intake.case_file import load_sender
    from deskmend.planning.reach import split_goals
    from deskmend.report.allocation import allocation_document, allocation_text
    from deskmend.report.decision import DecisionInputs, given_options, rounds_before, written_round

    folder = Path(out)

    def options(currency: str | None) -> tuple[FundWishes, Sender | None, None]:
        wishes = partial(
            read_wishes,
            fund,
            currency,
            policy,
            split_goals(limit),
            cap,
            floor,
            split_goals(group_share),
            use_discomfort,
            every_gain,
            cap_in_all,
            split_goals(group_cap),
        )
        return read_each(
            wishes,
            lambda: None if sender_file is None else load_sender(sender_file),
            partial(refuse_folder, folder),
        )

    try:
        catalog = given.catalog()
        renamed = None if columns is None else load_column_map(columns)
        inputs = load_inputs(applicants, catalog, given.price_file, skip_invalid, given.today, renamed)
    except InputFaults as error:
        raise error.beside(partial(options, None)) from None
    wishes, sender, _ = options(inputs.prices.currency)
    before, prices, book, remarks = rounds_before(already, ledger, inputs.prices, catalog)
    notes = (*inputs.warnings, *remarks)
    given.remark(notes)
    basis = PlanBasis(catalog, prices, use_discomfort, wishes.kept, wishes.every_gain)
    teller = _Teller(wishes.policy, given.quiet)
    workers = _workers(basis, len(inputs.table.people), cluster, seconds)
    try:
        done = share_fund(
            inputs.table,
            prices,
            wishes,
            workers,
            before,
            teller.watch,
            teller.done,
            seconds,
            letters or unfinished_letters,
            notes,
            catalog=catalog,
            reasons="each" if reasons == "few" and (letters or unfinished_letters) else reasons,
            skip_invalid=skip_invalid,
        )
    finally:
        teller.end()
        workers.close()
    ended_early = done.ended_early
    if letters and ended_early and not unfinished_letters:
        told = tr("no letters are written where the search was broken off: --unfinished-letters does it")
        given.remark([told])
        letters = False
    asked = DecisionInputs(
        applicants=applicants,
        prices=inputs.prices.path,
        catalog=catalog,
        options=given_options(
            {
                name: value
                for name, value in click.get_current_context().params.items()
                if name not in _NO_OPTIONS
            }
        ),
        today=given.today,
        already=already or "",
        columns=columns or "",
        ledger=ledger or "",
        sender=sender_file or "",
        price_file=given.price_file or "",
        catalog_folder=given.catalog_folder or "",
    )
    written = written_round(done, asked, book, letters or unfinished_letters, contact, sender)
    # a result that took hours is told and kept, wherever it can be
    named: list[str] = []
    stands, faults = write_folder_or_another(folder, written.files, _another_folder(named))
    as_asked = stands is not None and (not faults or str(stands) in named)
    if as_asked and book is not None:
        try:
            write_over(Path(book.path), written.ledger, book.digest)
        except InputFaults as error:
            faults, as_asked = [*faults, *error.faults], False
    if book is not None and not as_asked:
        given.remark([tr("the ledger is not changed: this round does not count until it is shared again")])
    where = None if stands is None else out if stands == folder else str(stands)
    given.answer(
        lambda: allocation_document(done, catalog), lambda: emit(allocation_text(done, catalog, where))
    )
    if faults:
        from deskmend.report.documents import faults_text

        output.tell(faults_text(faults))
        given.remark([] if where is None else [tr("everything stands in {folder}", folder=where)])
    if not as_asked:
        return output.BAD_INPUT
    return output.NOT_PROVEN if ended_early else output.DONE


def _another_folder(named: list[str]) -> Callable[[], str | None]:
    """Ask at a terminal for another folder where one could not be written; those answered are kept."""

    def ask() -> str | None:
        if not (sys.stdin.isatty() and sys.stderr.isatty()):
            return None
        told = tr("It cannot be written there. Another folder (nothing: leave it)")
        answer = str(click.prompt(told, default="", show_default=False, err=True)).strip()
        named.extend([answer] if answer else [])
        return answer or None

    return ask


_NO_OPTIONS = frozenset(
    "applicants already as_json catalog_folder cluster columns ledger out price_file quiet sender_file "
    "today".split()
)
"""What a decision tells apart, what is a path on somebody's machine, and what changes no file."""


def _refuse_beside(
    applicants: str, ledger: str | None, already: str | None, alone: tuple[str | bool | None, ...]
) -> None:
    """Refuse what has no place beside a table of applicants."""
    names = ("--check", "--undo", "--entries", "--strike")
    faults = [
        option_fault("APPLICANTS", applicants, f"nothing beside {name}, which takes no applicants")
        for name, one in zip(names, alone, strict=True)
        if one
    ]
    if ledger is not None and already is not None:
        faults.append(option_fault("--already", already, "nothing beside --ledger, which knows all rounds"))
    if faults:
        raise InputFaults(faults)


def _workers(basis: PlanBasis, people: int, cluster: str | None, seconds: float | None) -> Workers:
    from deskmend.grants.people.workers import Cluster, InProcess, LocalProcesses
    from deskmend.processes import usable_cores

    if cluster is not None:
        return Cluster(basis, cluster, seconds)
    count = min(usable_cores(), people)
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
