"""``deskmend casebook``: visits, what was done, how it felt, rechecks, and what may be learned and shared."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from deskmend.cli import output
from deskmend.cli.output import (
    FORCE,
    CaseInputs,
    Shared,
    amounts,
    emit,
    emit_page,
    refuse_existing,
    refuse_target,
    shared,
    write_new,
)
from deskmend.errors import InputFaults, read_each, visible
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.casebook.store import Casebook, PersonBook, StepState, Visit
    from deskmend.casebook.visits import Entries
    from deskmend.measures import Minor
    from deskmend.planning.plan import Plan
    from deskmend.report.case_documents import PlanDocument

_FILE = click.option(
    "--casebook",
    "file",
    metavar="FILE",
    default="cases.casebook",
    show_default=True,
    help="The casebook: one file.",
)
_ON = click.option("--on", "day", metavar="YYYY-MM-DD", help="Day of it; today if left out.")
_NOTE = click.option("--note", metavar="TEXT", help="What else is worth keeping, in one line.")


def _wishes(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options of the plan that is given."""
    for option in (
        click.option("--never", metavar="FIX", multiple=True, help="A fix that must not be in the plan."),
        click.option("--must", metavar="FIX", multiple=True, help="A fix that has to be in the plan."),
        click.option("--budget", metavar="AMOUNT", help="Money in hand; the case's own if left out."),
    ):
        command = option(command)
    return command


@click.group("casebook", short_help="Keep visits, look again at what was done, learn and share counts.")
def casebook_command() -> None:
    """Keep a casebook: visits and plans given, what was done and paid, how it felt.

    One file holds it all, under keys of your own choosing: take none that tells who it is. Nothing leaves
    the machine, and erase leaves no trace of a person in the file.
    """


@casebook_command.command("add", short_help="Write a visit down, with the plan that is given.")
@click.argument("key", metavar="KEY")
@click.argument("case_file", metavar="CASE")
@_FILE
@_ON
@_NOTE
@_wishes
@shared("catalog", "learned", "prices", "today")
def add_command(
    given: Shared,
    key: str,
    case_file: str,
    file: str,
    day: str | None,
    note: str | None,
    budget: str | None,
    must: tuple[str, ...],
    never: tuple[str, ...],
) -> int:
    """Write a visit down: the case as it is, and the plan that is given for it.

    KEY names the person: letters, digits, _ and -. CASE is a case file. Its ratings of discomfort are kept as
    what was felt that day. The casebook is made where there is none. Exit code 1: there is no plan.
    """
    from deskmend.casebook.store import open_casebook
    from deskmend.casebook.visits import Entries, discomfort_told
    from deskmend.planning.plan import plan
    from deskmend.report.casebook import entry_document, names_text
    from deskmend.report.plan import plan_document, plan_text

    entries = Entries()
    entries.key(key)
    on, told = entries.day(day), entries.words(note, "--note")
    inputs, money = _inputs(given, case_file, entries, budget, must, never)
    case, catalog, prices, notes = inputs
    with given.waiting(tr("searching for the best plan")):
        best = plan(case, catalog, prices, money, must=must, never=never, notes=notes)
    document = plan_document(best, catalog)
    with open_casebook(file, create=True) as book:
        felt = discomfort_told(case, on, book.known(key))
        book.add_visit(key, _visit(inputs, case_file, on, best, document), felt, told)
    given.remark(best.warnings, on_page=True)

    def page() -> None:
        emit_page(plan_text, best, catalog, prices, False)
        if not given.quiet:
            emit_page(names_text, [step.option.with_name for step in best.steps])
            emit(tr("Written into {file} for {key}.", file=visible(file, None), key=key) + "\n")

    given.answer(lambda: entry_document(file, key, on.isoformat(), felt=felt, plan=document), page)
    return output.DONE if best.proven else output.NOT_PROVEN


@casebook_command.command("done", short_help="Write down what was done, or given up.")
@click.argument("key", metavar="KEY")
@click.argument("fixes", metavar="[PLACE.|TASK.]FIX[=VALUE]...", nargs=-1)
@click.option("--all", "every", is_flag=True, help="Every step of the plan given last.")
@click.option("--given-up", is_flag=True, help="It is not used any more.")
@click.option("--paid", metavar="AMOUNT", help="What was paid for all of FIX together.")
@click.option("--why", metavar="TEXT", help="Why, in one line.")
@_FILE
@_ON
@_NOTE
@shared("catalog")
def done_command(
    given: Shared,
    key: str,
    fixes: tuple[str, ...],
    every: bool,
    given_up: bool,
    paid: str | None,
    why: str | None,
    file: str,
    day: str | None,
    note: str | None,
) -> None:
    """Write down what was done, at the size it was done or bought in, or what was given up.

    KEY names the person. A fix is named as in the plan; another size than planned may stand behind it. The
    last word on a fix counts.
    """
    from deskmend.casebook.rechecking import no_longer_wanted, paid_together, steps_done
    from deskmend.casebook.visits import Entries
    from deskmend.language import shown_day
    from deskmend.report.casebook import entry_document, entry_text

    entries = Entries()
    entries.key(key)
    on = entries.day(day)
    words, told = entries.words(why, "--why"), entries.words(note, "--note")
    if not fixes and not every:
        entries.fault("FIX", None, "one fix or more, or --all")
    if paid is not None and (every or not fixes):
        entries.fault("--paid", paid, "--paid with the names of what it was paid for, without --all")
    with _existing(file, entries) as book:
        person = _person(book, key, entries)
        last = person.visits[-1] if person else None
        names = [*fixes, *(step.name for step in last.steps if every)] if last else []
        state: StepState = "given_up" if given_up else "kept"
        catalog = given.catalog()
        done = [] if person is None else steps_done(person, names, catalog, on, state, words, entries)
        if person is not None and last is not None and every and not given_up:
            gone = no_longer_wanted(person)
            reason = tr("the plan of {day} does without it", day=shown_day(last.day))
            done = steps_done(person, gone, catalog, on, "given_up", reason, entries) + done
        if person is not None and paid is not None:
            amount = entries.paid(paid, person.visits[-1].currency)
            done = paid_together(done, amount) if done else []
        entries.refuse()
        book.add_done(key, done, told)
    given.answer(
        lambda: entry_document(file, key, on.isoformat(), done=done),
        lambda: None if given.quiet else emit_page(entry_text, file, key, done, ()),
    )


@casebook_command.command("felt", short_help="Write down how regions of the body felt.")
@click.argument("key", metavar="KEY")
@click.argument("ratings", metavar="REGION=RATING...", nargs=-1, required=True)
@_FILE
@_ON
@_NOTE
@shared()
def felt_command(
    given: Shared, key: str, ratings: tuple[str, ...], file: str, day: str | None, note: str | None
) -> None:
    """Write down how regions of the body felt on a day, from 0, nothing, to 10, the worst.

    KEY names the person. REGION is eyes, neck, shoulders, arms_hands, upper_back, lower_back, hips_thighs or
    legs_feet, as in neck=6. What was felt changes no figure of strain.
    """
    from deskmend.casebook.visits import Entries
    from deskmend.report.casebook import entry_document, entry_text

    entries = Entries()
    entries.key(key)
    on, told = entries.day(day), entries.words(note, "--note")
    felt = entries.ratings(ratings, on)
    with _existing(file, entries) as book:
        _person(book, key, entries)
        entries.refuse()
        book.add_felt(key, felt, told)
    given.answer(
        lambda: entry_document(file, key, on.isoformat(), felt=felt),
        lambda: None if given.quiet else emit_page(entry_text, file, key, (), felt),
    )


@casebook_command.command("recheck", short_help="Compare before, planned and reached, and plan from there.")
@click.argument("key", metavar="KEY")
@click.argument("case_file", metavar="CASE")
@click.option(
    "--measured",
    is_flag=True,
    help="The case was measured with everything in place, so nothing that it tells is added to it.",
)
@click.option("--keep", is_flag=True, help="Also write it down as a visit, with the new plan.")
@click.option(
    "--out",
    metavar="FILE.html",
    help="Write a page with both drawn side by side: the first visit, then now. A file of that name is "
    "replaced.",
)
@click.option(
    "--next",
    "following",
    metavar="FILE.yaml",
    help="Write a case file for the plan from there: what stands is in place, what was bought is owned, what "
    "was given up is refused. plan and report take it.",
)
@FORCE
@_FILE
@_ON
@_wishes
@shared("catalog", "learned", "prices", "today")
def recheck_command(
    given: Shared,
    key: str,
    case_file: str,
    measured: bool,
    keep: bool,
    out: str | None,
    following: str | None,
    force: bool,
    file: str,
    day: str | None,
    budget: str | None,
    must: tuple[str, ...],
    never: tuple[str, ...],
) -> int:
    """Look at a workplace again: before, planned and reached, and a plan from there.

    KEY names the person. CASE is the workplace as it is now, without what stands in the casebook as done:
    that is added. With --measured it is the workplace with it, and only what the case does not tell is
    added. What was bought counts as owned, in the size it has; what was given up is not planned again. No
    visit is written unless you say --keep. Exit code 1: there is no plan.
    """
    from deskmend.casebook.rechecking import before_and_reached, follow_up_text, recheck
    from deskmend.casebook.visits import Entries, discomfort_told
    from deskmend.report.html.page import beside_html
    from deskmend.report.plan import plan_document
    from deskmend.report.recheck import recheck_document, recheck_text

    entries = Entries()
    entries.key(key)
    on = None if day is None else entries.day(day)
    if out is not None:
        refuse_target(Path(out))
    if following is not None:
        refuse_target(Path(following))
        refuse_existing(Path(following), force)
    with _existing(file, entries) as book:
        person = _person(book, key, entries)
        inputs, money = _inputs(given, case_file, entries, budget, must, never)
        case, catalog, prices, notes = inputs
        if person is None:
            raise book.unknown(key)
        with given.waiting(tr("searching for the best plan")):
            found = recheck(
                person,
                case,
                catalog,
                prices,
                day=on,
                measured=measured,
                budget=money,
                must=must,
                never=never,
                notes=notes,
            )
        if out is not None:
            write_new(Path(out), beside_html(before_and_reached(found, catalog, prices)), force=True)
            book.add_export(entries.day(day), _place_of(out), "recheck", [person.key])
        if following is not None:
            write_new(Path(following), follow_up_text(_text_of(case_file), found), force)
            book.add_export(entries.day(day), _place_of(following), "case", [person.key])
        if keep:
            visited = entries.day(day)
            document = plan_document(found.again, catalog)
            visit = _visit(inputs, case_file, visited, found.again, document)
            book.add_visit(key, visit, discomfort_told(case, visited, person))
    given.remark(found.warnings, on_page=True)

    def page() -> None:
        emit_page(recheck_text, found, catalog)
        if following is not None and not given.quiet:
            told = tr(
                "{file} is written: deskmend plan {file} and deskmend report {file} give the plan from here.",
                file=visible(following, None),
            )
            emit(told + "\n")

    given.answer(lambda: recheck_document(found, catalog), page)
    return output.DONE if found.again.proven else output.NOT_PROVEN


@casebook_command.command("show", short_help="Show all that is kept of one person.")
@click.argument("key", metavar="KEY")
@_FILE
@shared()
def show_command(given: Shared, key: str, file: str) -> None:
    """Show all that is kept of one person.

    KEY names the person. The texts of the cases and the plans in full stand in the --json document.
    """
    from deskmend.report.casebook import person_document, person_text

    with _known(file, key) as (_, person):
        pass
    given.answer(lambda: person_document(file, person), lambda: emit_page(person_text, person))


@casebook_command.command("list", short_help="List who stands in the casebook.")
@_FILE
@shared()
def list_command(given: Shared, file: str) -> None:
    """List who stands in the casebook, with counts."""
    from deskmend.casebook.store import open_casebook
    from deskmend.report.casebook import list_document, list_text

    with open_casebook(file) as book:
        persons = book.persons()
    given.answer(lambda: list_document(file, persons), lambda: emit_page(list_text, persons))


@casebook_command.command("learn", short_help="Count what was done and is still used.")
@click.option("--out", metavar="FILE.yaml", help="Write figures there that plans read with --learned.")
@FORCE
@_FILE
@_ON
@shared("catalog")
def learn_command(given: Shared, out: str | None, force: bool, file: str, day: str | None) -> None:
    """Count, fix by fix, for whom it was planned, who did it, and who still uses it.

    A share is told from ten cases on, with the catalog's figure and how many cases that counts for. --out
    writes the shares of habits, which plans count with. How people felt is not looked at.
    """
    from deskmend.casebook.learning import fix_counts, learned_from
    from deskmend.casebook.store import open_casebook
    from deskmend.casebook.visits import Entries
    from deskmend.report.casebook import learning_document, learning_text, overlay_text

    entries = Entries()
    on = entries.day(day)
    entries.refuse()
    if out is not None:
        refuse_existing(Path(out), force)
    catalog = given.catalog()
    with open_casebook(file) as book:
        persons = book.persons()
        counts = fix_counts(persons)
        learned = learned_from(counts, catalog)
        written = out if any(one.from_catalog for one in learned) else None
        if written is not None:
            write_new(Path(written), overlay_text(learned), force)
            counted = {one.count.fix for one in learned if one.from_catalog}
            keys = [one.key for one in persons if any(step.fix in counted for step in one.done)]
            book.add_export(on, _place_of(written), "learn", keys)
    given.answer(
        lambda: learning_document(file, len(persons), counts, learned, written),
        lambda: _learn_page(given, learning_text(counts, learned, catalog), out, written),
    )


def _learn_page(given: Shared, text: str, out: str | None, written: str | None) -> None:
    emit(text)
    if out is None or given.quiet:
        return
    name = visible(out, None)
    if written is None:
        emit(tr("{file} is not written: no habit with a figure was done by ten persons.", file=name) + "\n")
    else:
        emit(tr("{file} is written. Plans read it with --learned {file}.", file=name) + "\n")


@casebook_command.command("share", short_help="Counts without any group of fewer than five.")
@click.option("--out", metavar="FILE.csv", help="Write the counts there as a table.")
@FORCE
@_FILE
@_ON
@shared()
def share_command(given: Shared, out: str | None, force: bool, file: str, day: str | None) -> None:
    """Give counts that may be shared: no key, no day, no case, and no group of fewer than five persons.

    Where a total would reveal such a group, the next smallest is withheld with it.
    """
    from deskmend.casebook.learning import shared_counts
    from deskmend.casebook.store import open_casebook
    from deskmend.casebook.visits import Entries
    from deskmend.report.casebook import counts_csv, counts_document, counts_text

    entries = Entries()
    on = entries.day(day)
    entries.refuse()
    if out is not None:
        refuse_existing(Path(out), force)
    with open_casebook(file) as book:
        persons = book.persons()
        counts = shared_counts(persons)
        if out is not None:
            write_new(Path(out), counts_csv(counts), force)
            book.add_export(on, _place_of(out), "share", [one.key for one in persons])
    given.answer(lambda: counts_document(counts), lambda: emit_page(counts_text, counts))


@casebook_command.command("erase", short_help="Take a person out, without a trace in the file.")
@click.argument("key", metavar="KEY")
@_FILE
@shared()
def erase_command(given: Shared, key: str, file: str) -> None:
    """Take a person out: no byte of what is kept of the person stays in the file or beside it.

    KEY names the person. Said too is which files that stand elsewhere were written from the casebook, and
    which case files it was read from: they are not erased.
    """
    from deskmend.report.casebook import erased_document, erased_text

    with _known(file, key) as (book, _):
        erased = book.erase(key)
    given.answer(lambda: erased_document(file, erased), lambda: emit_page(erased_text, file, erased))


# --- what the commands share ---------------------------------------------------------------------------


def _inputs(
    given: Shared,
    case_file: str,
    entries: Entries,
    budget: str | None,
    must: Sequence[str],
    never: Sequence[str],
) -> tuple[CaseInputs, Minor | None]:
    """A case with catalog and prices, and the budget; faults are told with those of what was typed."""
    read = partial(amounts, {"--budget": budget})
    inputs, (money, _) = given.inputs_and(
        case_file,
        lambda currency: read_each(partial(read, currency), entries.refuse),
        {"--must": must, "--never": never},
    )
    return inputs, money["--budget"]


def _existing(file: str, entries: Entries) -> Casebook:
    """Open a casebook that is there; that there is none is told together with what was typed wrongly."""
    from deskmend.casebook.store import open_casebook

    try:
        return open_casebook(file)
    except InputFaults as error:
        raise InputFaults([*entries.faults, *error.faults]) from None


@contextmanager
def _known(file: str, key: str) -> Iterator[tuple[Casebook, PersonBook]]:
    """A casebook that is there, open, and what it keeps of a person."""
    from deskmend.casebook.visits import Entries

    entries = Entries()
    entries.key(key)
    with _existing(file, entries) as book:
        person = _person(book, key, entries)
        entries.refuse()
        if person is None:
            raise book.unknown(key)
        yield book, person


def _person(book: Casebook, key: str, entries: Entries) -> PersonBook | None:
    """What is kept of a person; None, with a fault, where nobody has that key."""
    if any(fault.where == "KEY" for fault in entries.faults):
        return None
    try:
        return book.person(key)
    except InputFaults as error:
        entries.faults.extend(error.faults)
        return None


def _visit(inputs: CaseInputs, case_file: str, day: date, plan: Plan, document: PlanDocument) -> Visit:
    """The record of a visit, with the case as its file says it."""
    from deskmend.casebook.visits import visit_of
    from deskmend.report.documents import json_text

    _, catalog, prices, _ = inputs
    text = _text_of(case_file)
    return visit_of(day, _place_of(case_file), text, catalog, prices, plan, json_text(document))


def _text_of(case_file: str) -> str:
    """A case as its file says it."""
    from deskmend.errors import FaultList
    from deskmend.intake.reading.text_file import read_bounded_text

    faults = FaultList(case_file)
    text = read_bounded_text(case_file, 1_000_000, faults)
    faults.raise_if_any()
    return text or ""


def _place_of(file: str) -> str:
    """Where a file stands, so that it is found again from another folder."""
    return str(Path(file).resolve())
