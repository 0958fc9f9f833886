"""``deskmend check``, and telling what kind a file is from what it holds."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

import click

from deskmend.cli import output
from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit
from deskmend.errors import Fault, FaultList, InputFaults, did_you_mean, visible
from deskmend.language import tr

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
    warned of. Exit code 2: there are faults.
    """
    from deskmend.report.faults import checked_document, faults_text

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
