"""``deskmend check``."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from deskmend.cli import exit_codes
from deskmend.cli.options import catalog_option, json_option, quiet_option, reader_options, today_option
from deskmend.cli.output import emit, emit_document, remark
from deskmend.errors import Fault, InputFaults, visible
from deskmend.messages import tr

__all__ = ["check_command"]

KINDS = {"applicants": "applicants", "case": "case", "catalog": "catalog", "prices": "prices"}
"""Kinds of files in words."""


@click.command("check", short_help="List every fault of cases, catalogs and tables.")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@catalog_option
@today_option
@json_option
@quiet_option
@reader_options
def check_command(
    files: tuple[str, ...], catalog_folder: str | None, today: date | None, as_json: bool, quiet: bool
) -> int:
    """List every fault of every file.

    FILE is a case file, a catalog folder, a price table or a table of applicants; which one it is shows from
    what it holds. A fault says the file and line, what was read and what is allowed there. Old prices are
    warned of. Exit code 2: there are faults.
    """
    from deskmend.cli.file_kinds import kind_of

    kinds: dict[str, str] = {}
    by_file: dict[str, list[Fault]] = {}
    for file in dict.fromkeys(files):
        kinds[file] = kind_of(file)
        by_file[file], warnings = _found(file, kinds[file], catalog_folder, today)
        remark([f"{visible(file, None)}: {warning}" for warning in warnings], quiet)
    faults = [fault for found in by_file.values() for fault in found]
    if as_json:
        from deskmend.report.failures import checked_document

        emit_document(checked_document(kinds, faults))
    else:
        from deskmend.report.failures import faults_text

        for file, found in by_file.items():
            if found:
                emit(faults_text(found))
            elif not quiet:
                told = tr("{file}: no faults ({kind})", file=visible(file, None), kind=tr(KINDS[kinds[file]]))
                emit(f"{told}\n")
    return exit_codes.BAD_INPUT if faults else exit_codes.DONE


def _found(
    file: str, kind: str, catalog_folder: str | None, today: date | None
) -> tuple[list[Fault], list[str]]:
    """Faults of a file, and what has to be said of one that has none."""
    from deskmend.cli.file_kinds import APPLICANTS, CASE, CATALOG, PRICES, unknown_kind

    try:
        if kind == CASE:
            return _case_faults(file, catalog_folder), []
        if kind == CATALOG:
            return _catalog_faults(file), []
        if kind == PRICES:
            from deskmend.intake.prices import load_prices
            from deskmend.planning.inputs import stale_prices

            return [], stale_prices(load_prices(file), today)
        if kind == APPLICANTS:
            from deskmend.intake.applicants import load_applicants
            from deskmend.intake.catalog import load_catalog

            load_applicants(file, load_catalog(catalog_folder))
            return [], []
        return unknown_kind(file), []
    except InputFaults as error:
        return list(error.faults), []


def _case_faults(file: str, catalog_folder: str | None) -> list[Fault]:
    from deskmend.intake.case_file import load_case
    from deskmend.intake.catalog import load_catalog
    from deskmend.intake.wish_names import misnamed
    from deskmend.planning.inputs import fitting_faults

    case = load_case(file)
    catalog = load_catalog(catalog_folder)
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
