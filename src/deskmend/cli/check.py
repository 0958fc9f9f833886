"""``deskmend check``.

Telling what kind a file is from what it holds.
"""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import click

from deskmend.cli import output
from deskmend.cli.options import catalog_option, json_option, quiet_option, reader_options, today_option
from deskmend.cli.output import emit, emit_document, remark
from deskmend.errors import Fault, FaultList, InputFaults, did_you_mean, visible
from deskmend.language import tr

__all__ = ["APPLICANTS", "CASE", "CATALOG", "PRICES", "check_command", "kind_of", "unknown_kind"]

APPLICANTS = "applicants"
CASE = "case"
CATALOG = "catalog"
PRICES = "prices"
UNKNOWN = "unknown"

ALLOWED = "a case file, a catalog folder, a price table or a table of applicants"
CATALOG_FORMATS = ("deskmend-fixes/1", "deskmend-items/1", "deskmend-sources/1", "deskmend-signs/1")
HEAD = 64_000
"""Longest line looked at to tell a table from a case [characters]."""


def kind_of(file: str) -> str:
    """Kind of a file.

    Parameters
    ----------
    file : str
        Path as the user gave it.

    Returns
    -------
    str
        ``case``, ``catalog``, ``prices``, ``applicants`` or ``unknown``. A file that cannot be read, or whose
        format is misspelt, is taken for what its name says, so that its faults are told by the loader of that
        kind.
    """
    if os.path.isdir(file):
        return CATALOG
    if file.lower().endswith((".xlsx", ".parquet")):
        return APPLICANTS
    header = _header(file)
    if file.lower().endswith(".csv") and "item" not in header:
        if "id" in header or any(name.startswith(("person.", "seat.", "desk.")) for name in header):
            return APPLICANTS
    if file.lower().endswith(".csv") or _is_price_header(header):
        return PRICES
    return UNKNOWN if _format_of(file) in CATALOG_FORMATS else CASE


def _is_price_header(columns: list[str]) -> bool:
    from deskmend.intake.prices import NEEDED_COLUMNS

    return all(column in columns for column in NEEDED_COLUMNS)


def _header(file: str) -> list[str]:
    """Columns that the first line names which is no note; none where the file cannot be read."""
    if not os.path.isfile(file):
        return []
    try:
        with open(file, encoding="utf-8-sig", errors="replace") as stream:
            for line in stream:
                if len(line) > HEAD:
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


def unknown_kind(file: str) -> list[Fault]:
    """Faults of a file that is one part of a catalog: only the whole folder can be checked."""
    faults = FaultList(file)
    written = _format_of(file)
    hint = "check the catalog's folder: its files name each other" if written else did_you_mean(file, ())
    faults.add(None, "format", written, ALLOWED, hint)
    return list(faults)


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
    from deskmend.cli.check import kind_of

    kinds: dict[str, str] = {}
    by_file: dict[str, list[Fault]] = {}
    for file in dict.fromkeys(files):
        kinds[file] = kind_of(file)
        by_file[file], warnings = _found(file, kinds[file], catalog_folder, today)
        remark([f"{visible(file, None)}: {warning}" for warning in warnings], quiet)
    faults = [fault for found in by_file.values() for fault in found]
    if as_json:
        from deskmend.report.faults import checked_document

        emit_document(checked_document(kinds, faults))
    else:
        from deskmend.report.faults import faults_text

        for file, found in by_file.items():
            if found:
                emit(faults_text(found))
            elif not quiet:
                told = tr("{file}: no faults ({kind})", file=visible(file, None), kind=tr(KINDS[kinds[file]]))
                emit(f"{told}\n")
    return output.BAD_INPUT if faults else output.DONE


def _found(
    file: str, kind: str, catalog_folder: str | None, today: date | None
) -> tuple[list[Fault], list[str]]:
    """Faults of a file, and what has to be said of one that has none."""
    from deskmend.cli.check import APPLICANTS, CASE, CATALOG, PRICES, unknown_kind

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
    from deskmend.intake.catalog import load_catalog, misnamed
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
