"""What people keep in files: ``deskmend catalog``, ``deskmend prices`` and ``deskmend check``."""

from __future__ import annotations

import os
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from deskmend.cli import output
from deskmend.cli.output import Shared, emit, emit_page, shared
from deskmend.errors import Fault, FaultList, InputFaults, did_you_mean, option_fault, read_each, visible
from deskmend.language import tr, trn

if TYPE_CHECKING:
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.catalog_records import Fix


@click.command("catalog", short_help="List the fixes, or show one in full.")
@click.argument("fix", metavar="[FIX]", required=False)
@click.option("--copy-as", metavar="NAME", help="Begin a fix of your own as a copy of FIX, under this name.")
@click.option("--title", metavar="TEXT", help="With --copy-as: what it is, in a few words.")
@click.option(
    "--into",
    metavar="DIR",
    help="With --copy-as: the catalog of your own that it goes into; begun as a copy of this one if new.",
)
@shared("catalog", "learned", prices="Price table: tell what the materials cost a pack.")
def catalog_command(
    given: Shared, fix: str | None, copy_as: str | None, title: str | None, into: str | None
) -> None:
    """List all fixes by decision, or show one in full.

    FIX is the name of a fix. It is shown with what it takes, what it changes, how it is done, what to mind,
    and the studies behind it, those that speak against it included. With --copy-as a fix of your own is begun
    as a copy of it, checked with the whole catalog, and shown; change the file then, and run deskmend check.
    """
    from deskmend.intake.prices import load_prices
    from deskmend.report.catalog import advice_text, catalog_document, catalog_text, fix_text

    catalog = given.catalog()
    prices = None if given.price_file is None else load_prices(given.price_file)
    name = "" if fix is None else fix.lower()
    shown = next((one for one in catalog.fixes if one.id.lower() == name), None)
    advice = next((one for one in catalog.advice if one.id.lower() == name), None)
    copying = [copy_as, into] if title is None else [copy_as, into, title]
    if any(copying) and not (copy_as and into and shown):
        raise InputFaults(
            [option_fault("--copy-as", copy_as, "FIX, --copy-as NAME and --into DIR together")]
            if fix is None or shown is not None
            else [option_fault("FIX", fix, "a fix of the catalog", did_you_mean(fix, catalog.by_id))]
        )
    if copy_as and into and shown is not None:
        catalog = _copied(catalog, shown, copy_as, title or shown.title, Path(into))
        shown = catalog.by_id[copy_as]
    if fix is None:
        given.answer(
            lambda: catalog_document(catalog, catalog.fixes, prices), lambda: emit_page(catalog_text, catalog)
        )
    elif advice is not None and not given.as_json:
        emit_page(advice_text, advice, catalog)
    elif shown is not None:
        given.answer(
            lambda: catalog_document(catalog, (shown,), prices),
            lambda: emit_page(fix_text, shown, catalog, prices),
        )
    else:
        hint = did_you_mean(fix, [*catalog.by_id, *(one.id for one in catalog.advice)])
        fault = option_fault("FIX", fix, "a fix of the catalog", hint or "see deskmend catalog")
        raise InputFaults([fault])


def _copied(catalog: Catalog, fix: Fix, name: str, title: str, folder: Path) -> Catalog:
    """Write a copy of a fix into a catalog of one's own, if the whole is sound with it; gives that."""
    from deskmend.cli.output import write_folder, write_new
    from deskmend.intake.catalog import catalog_files, copy_text, load_catalog, trial_of
    from deskmend.intake.reading.text_file import ALLOWED_ID, is_id
    from deskmend.planning.catalog_check import check_catalog

    if not is_id(name):
        raise InputFaults([option_fault("--copy-as", name, ALLOWED_ID)])
    into = load_catalog(folder) if folder.is_dir() and any(folder.iterdir()) else None
    taken = [one for one in (into or catalog).by_id if one.lower() == name.lower()]
    if taken:
        raise InputFaults([option_fault("--copy-as", name, "a name that no fix of the catalog has")])
    where = f"fixes/{name}.yaml"
    files = catalog_files((into or catalog).folder) | {where: copy_text(catalog, fix, name, title)}
    with tempfile.TemporaryDirectory() as trial:
        read, faults = trial_of(files, Path(trial))
        faults += [] if read is None else check_catalog(read)
        if faults:
            raise InputFaults(
                replace(one, file=str(folder / Path(one.file).relative_to(trial)))
                if Path(one.file).is_relative_to(trial)
                else one
                for one in faults
            )
    if into is None:
        write_folder(folder, files)
    else:
        write_new(folder / where, files[where], force=False)
    return load_catalog(folder)


@click.group("prices", short_help="Write, keep and compare price tables.")
def prices_command() -> None:
    """Write price tables to fill in, and keep them.

    Ask only for what could matter: deskmend prices new --for case.yaml --out prices.csv
    """


@prices_command.command("new", short_help="Write a table of exactly the items that could matter.")
@click.option("--for", "case_file", metavar="CASE", required=True, help="Case file to ask for.")
@click.option("--out", metavar="FILE", help="Where it goes; a file that is there already is kept.")
@shared("catalog", today="Day written into every row as the day of its price; left to you if left out.")
def new_prices_command(
    given: Shared,
    case_file: str,
    out: str | None,
) -> None:
    """Write a price table with the items that some fix for this case takes, and no prices.

    Items that decide most come first; what the person owns enough of is left out. Pack sizes are suggestions.
    """
    from deskmend.cli.output import refuse_unless_new, write_new
    from deskmend.intake.case_file import load_case
    from deskmend.planning.inputs import fitting_faults, price_questions
    from deskmend.report.forms.blank import price_form, price_form_document

    def refuse_out() -> None:
        if out is not None:
            refuse_unless_new(Path(out))

    case, catalog, _ = read_each(partial(load_case, case_file), given.catalog, refuse_out)
    faults = fitting_faults(case, catalog)
    if faults:
        raise InputFaults(faults)
    questions = price_questions(case, catalog)
    text = price_form(case, catalog, questions, given.today)
    if out is not None:
        write_new(Path(out), text, force=False)

    def page() -> None:
        if out is None:
            emit(text)
        elif not given.quiet:
            told = trn(
                "{file} is written: {count} price to ask. Then run: deskmend check {file}",
                "{file} is written: {count} prices to ask. Then run: deskmend check {file}",
                len(questions),
                file=visible(out, None),
            )
            emit(f"{told}\n")

    given.answer(lambda: price_form_document(case, catalog, questions), page)


@prices_command.command("add", short_help="Add a row to a price table, or replace one.")
@click.argument("table", metavar="TABLE")
@click.option("--item", metavar="ITEM", required=True, help="What it is: an item of the catalog.")
@click.option("--price", metavar="AMOUNT", required=True, help="What a pack costs.")
@click.option("--pack", metavar="N", default="1", show_default=True, help="Units in a pack.")
@click.option("--size", metavar="SIZE", help="The size that the price is for, where sizes differ in price.")
@click.option("--low", metavar="AMOUNT", help="Least it may cost.")
@click.option("--high", metavar="AMOUNT", help="Most it may cost.")
@click.option("--currency", metavar="CODE", help="Currency; the table's own if left out, EUR in a new one.")
@click.option("--stock", metavar="N", help="Packs that can be had; any number if left out.")
@click.option("--from-packs", metavar="N", help="The price holds from so many packs on.")
@click.option("--condition", metavar="TEXT", help="As new or used.")
@click.option("--as-of", metavar="YYYY-MM-DD", help="Day of the price.")
@click.option("--source", metavar="TEXT", help="Where the price was seen.")
@click.option("--replace", is_flag=True, help="Take the place of the row of this item that is there.")
@shared("catalog")
def add_price_command(
    given: Shared, table: str, item: str, size: str | None, replace: bool, **cells: str | None
) -> None:
    """Add a row to a price table, or replace one; all else in it stays as it is.

    TABLE is a price table; a new one is begun where there is none. The whole table is checked with the row
    before it is written.
    """
    from deskmend.cli.output import write_new
    from deskmend.intake.prices import load_prices, sized_item, with_price
    from deskmend.planning.inputs import DEFAULT_CURRENCY

    faults = []
    items = given.catalog().items
    if item not in items:
        faults.append(option_fault("--item", item, "an item of the catalog", did_you_mean(item, items)))
    path = Path(table)
    row = {"item": sized_item(item, size or "")} | {key: text for key, text in cells.items() if text}
    try:
        if "currency" not in row:
            row["currency"] = load_prices(path).currency if path.exists() else DEFAULT_CURRENCY
        text = with_price(path, row, replace)
    except InputFaults as error:
        faults.extend(error.faults)
    if faults:
        raise InputFaults(faults)
    write_new(path, text, force=True)
    told = tr("{item} is written into {file}.", item=visible(row["item"]), file=visible(table, None))
    given.written(table, told)


@prices_command.command("age", short_help="Say which prices of a table are old.")
@click.argument("table", metavar="TABLE")
@shared("today")
def age_command(given: Shared, table: str) -> None:
    """Say how old each price is, the oldest first, and which are over a year old.

    TABLE is a price table. Age counts from --today, else from the newest price of the table.
    """
    from deskmend.intake.prices import ages_of, load_prices
    from deskmend.report.prices import ages_document, ages_text

    ages = ages_of(load_prices(table), given.today)
    given.answer(lambda: ages_document(table, ages), lambda: emit_page(ages_text, ages))


@prices_command.command("compare", short_help="Set two price tables side by side.")
@click.argument("first", metavar="TABLE")
@click.argument("second", metavar="TABLE2")
@shared()
def compare_prices_command(given: Shared, first: str, second: str) -> None:
    """Say what is dearer and what is cheaper in a second table, and what only one of the two has.

    TABLE and TABLE2 are price tables of one currency. Where packs differ, what a unit costs is compared.
    """
    from deskmend.intake.prices import load_prices, price_pairs
    from deskmend.report.prices import pairs_document, pairs_text

    pairs = price_pairs(load_prices(first), load_prices(second))
    given.answer(
        lambda: pairs_document(first, second, pairs), lambda: emit_page(pairs_text, first, second, pairs)
    )


FileKind = Literal["applicants", "case", "catalog", "prices", "unknown"]

NAMES = {"applicants": "applicants", "case": "case", "catalog": "catalog", "prices": "prices"}
"""Kinds of files in words."""

_CATALOG_FORMATS = ("deskmend-fixes/1", "deskmend-items/1", "deskmend-sources/1", "deskmend-signs/1")
_LONGEST = 64_000
"""Longest line looked at to tell a table from a case [characters]."""


@click.command("check", short_help="List every fault of cases, catalogs and tables.")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@shared("catalog", "today")
def check_command(given: Shared, files: tuple[str, ...]) -> int:
    """List every fault of every file.

    FILE is a case file, a catalog folder, a price table or a table of applicants; which one it is shows from
    what it holds. A fault says the file and line, what was read and what is allowed there. Old prices are
    warned of. Each file is looked at by itself: what has changed since an earlier case is told by compare
    CASE --beside CASE2, and by casebook recheck KEY CASE for a person in a casebook. Exit code 2: there are
    faults.
    """
    from deskmend.report.documents import checked_document, faults_text

    kinds = {file: _kind_of(file) for file in dict.fromkeys(files)}
    by_file: dict[str, list[Fault]] = {}
    for file, kind in kinds.items():
        by_file[file], warnings = _found(file, kind, given)
        given.remark([f"{visible(file, None)}: {warning}" for warning in warnings])
    faults = [fault for found in by_file.values() for fault in found]

    def page() -> None:
        for file, found in by_file.items():
            if found:
                emit(faults_text(found))
            elif not given.quiet:
                told = tr("{file}: no faults ({kind})", file=visible(file, None), kind=tr(NAMES[kinds[file]]))
                emit(f"{told}\n")

    given.answer(lambda: checked_document(kinds, faults), page)
    return output.BAD_INPUT if faults else output.DONE


def _kind_of(file: str) -> FileKind:
    """Kind of a file.

    One that cannot be read, or whose format is misspelt, is taken for what its name says, so that its faults
    are told by the loader of that kind.
    """
    from deskmend.intake.prices import NEEDED_COLUMNS, holds_applicants

    if os.path.isdir(file):
        return "catalog"
    ending = Path(file).suffix.lower()
    if ending in (".xlsx", ".parquet"):
        return "applicants"
    columns = _columns(file)
    if ending == ".csv":
        return "applicants" if holds_applicants(columns) else "prices"
    if set(NEEDED_COLUMNS) <= set(columns):
        return "prices"
    return "unknown" if _format_of(file) in _CATALOG_FORMATS else "case"


def _columns(file: str) -> list[str]:
    """Columns that the first line names which is no note; none where the file cannot be read."""
    if not os.path.isfile(file):
        return []
    try:
        with open(file, encoding="utf-8-sig", errors="replace") as stream:
            for line in stream:
                if len(line) > _LONGEST:
                    return []
                if line.strip(" \t\r\n,") and not line.lstrip('" \t').startswith("#"):
                    return [column.strip().strip('"') for column in line.split(",")]
    except (OSError, ValueError):
        return []
    return []


def _format_of(file: str) -> str | None:
    from deskmend.intake.reading.yaml_tree import read_tree, to_plain

    tree, _ = read_tree(file)
    plain = None if tree is None else to_plain(tree.root)
    written = plain.get("format") if isinstance(plain, dict) else None
    return written if isinstance(written, str) else None


def _of_unknown_kind(file: str) -> list[Fault]:
    """Faults of a file that is one part of a catalog: only the whole folder can be checked."""
    faults = FaultList(file)
    written = _format_of(file)
    hint = "check the catalog's folder: its files name each other" if written else did_you_mean(file, ())
    allowed = "a case file, a catalog folder, a price table or a table of applicants"
    faults.add(None, "format", written, allowed, hint)
    return list(faults)


def _found(file: str, kind: FileKind, given: Shared) -> tuple[list[Fault], list[str]]:
    """Faults of a file, and what has to be said of one that has none."""
    try:
        if kind == "case":
            return _case_faults(file, given), []
        if kind == "catalog":
            return _catalog_faults(file), []
        if kind == "prices":
            from deskmend.intake.prices import load_prices
            from deskmend.planning.inputs import stale_prices

            return [], stale_prices(load_prices(file), given.today)
        if kind == "applicants":
            from deskmend.intake.applicants import load_applicants

            load_applicants(file, given.catalog())
            return [], []
        return _of_unknown_kind(file), []
    except InputFaults as error:
        return list(error.faults), []


def _case_faults(file: str, given: Shared) -> list[Fault]:
    from deskmend.intake.case_file import load_case
    from deskmend.intake.catalog import misnamed
    from deskmend.planning.inputs import fitting_faults

    case, catalog = load_case(file), given.catalog()
    faults = fitting_faults(case, catalog)
    for key, wishes in (("must", case.wishes.must), ("never", case.wishes.never)):
        for number, text in enumerate(wishes):
            told = misnamed(text, case, catalog)
            if told is not None:
                faults.append(case.fault(("wishes", key, number), text, *told))
    return faults


def _catalog_faults(folder: str) -> list[Fault]:
    from deskmend.intake.catalog import read_catalog
    from deskmend.planning.catalog_check import check_catalog

    catalog, faults = read_catalog(Path(folder))
    return [*faults, *(check_catalog(catalog) if catalog is not None else ())]
