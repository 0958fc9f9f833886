"""Loading a table of applicants: one row a person, each checked like a case file of its own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from deskmend.errors import Fault, FaultList, InputFaults
from deskmend.intake.applicant_cells import read_cells
from deskmend.intake.applicant_records import Applicant, ApplicantTable, Rejected
from deskmend.intake.applicant_rows import RowReader, header_of
from deskmend.intake.catalog import Catalog
from deskmend.intake.ids import is_id

__all__ = [
    "Applicant",
    "ApplicantTable",
    "Rejected",
    "accepted",
    "in_currency",
    "load_applicants",
    "read_applicants",
]


def load_applicants(
    path: str | Path,
    catalog: Catalog | None = None,
    skip_invalid: bool = False,
    currency: str | None = None,
) -> ApplicantTable:
    """Read a table of applicants.

    Parameters
    ----------
    path : str or Path
        CSV, XLSX or Parquet, told by the ending; notes may stand above the header of the first two, on lines
        that begin with ``#``.
    catalog : Catalog, optional
        Shows which things, warning signs and fixes exist; not looked at if left out.
    skip_invalid : bool
        Set rows with faults aside instead of refusing the table.
    currency : str, optional
        Currency of the price table; a row that names another is at fault.

    Returns
    -------
    ApplicantTable
        Lengths, angles and times are read as in a case file.

    Raises
    ------
    InputFaults
        The table has faults, or no row is left of it.
    """
    table, faults = read_applicants(path, catalog)
    if table is None:
        raise InputFaults(faults)
    return accepted(table if currency is None else in_currency(table, currency), skip_invalid)


def read_applicants(
    path: str | Path, catalog: Catalog | None = None
) -> tuple[ApplicantTable | None, list[Fault]]:
    """Read a table as far as it goes.

    Parameters
    ----------
    path : str or Path
        CSV, XLSX or Parquet.
    catalog : Catalog, optional
        Shows which things, warning signs and fixes exist.

    Returns
    -------
    table : ApplicantTable or None
        Good rows, and those with faults; None where the table as a whole cannot be read.
    faults : list of Fault
        Why there is no table.
    """
    file = str(path)
    faults = FaultList(file)
    header, rows = read_cells(path, faults)
    known = None if header is None else header_of(header, catalog, faults)
    if faults or known is None:
        return None, list(faults)
    reader = RowReader(file, known, catalog)
    found = [reader.read(row) for row in rows]
    if faults:
        return None, list(faults)
    if not found:
        faults.add(None, "", None, "at least one row below the header", "", "holds no applicants")
        return None, list(faults)
    taken, rejected = _without_repeats(found, file)
    return ApplicantTable(file, taken, rejected), []


def in_currency(table: ApplicantTable, currency: str) -> ApplicantTable:
    """Reject the rows that name another currency.

    Parameters
    ----------
    table : ApplicantTable
        As read.
    currency : str
        Currency of the price table.
    """
    taken, rejected = [], list(table.rejected)
    for one in table.people:
        written = one.plain.get("means", {}).get("currency")
        if written in (None, "unknown", currency):
            taken.append(one)
            continue
        allowed = f"{currency}, the currency of the price table"
        fault = Fault(table.file, one.line, "means.currency", written, allowed, kind="means.currency")
        rejected.append(Rejected(one.line, one.id, (fault,)))
    return ApplicantTable(table.file, tuple(taken), tuple(sorted(rejected, key=lambda one: one.line)))


def accepted(table: ApplicantTable, skip_invalid: bool) -> ApplicantTable:
    """Refuse a table with rejected rows, unless they are to be set aside and others are left.

    Parameters
    ----------
    table : ApplicantTable
        As read.
    skip_invalid : bool
        Set rows with faults aside.

    Raises
    ------
    InputFaults
        The faults of all rejected rows.
    """
    if table.rejected and (not skip_invalid or not table.people):
        together = FaultList(table.file)
        for one in table.rejected:
            together.extend(one.faults)
        raise InputFaults(together)
    return table


def _without_repeats(
    found: Sequence[Applicant | Rejected], file: str
) -> tuple[tuple[Applicant, ...], tuple[Rejected, ...]]:
    """Reject every row of an id that stands twice: which one is meant nobody knows."""
    times = Counter(one.id.casefold() for one in found if is_id(one.id))
    first: dict[str, Applicant | Rejected] = {}
    taken: list[Applicant] = []
    rejected: list[Rejected] = []
    for one in found:
        key = one.id.casefold()
        faults = list(one.faults) if isinstance(one, Rejected) else []
        if times[key] > 1:
            other = first.setdefault(key, one)
            note = (
                f"the same id stands on {times[key]} rows"
                if other is one
                else f"the same id stands on row {other.line}"
            )
            allowed = "each id once, letter case aside"
            faults.append(Fault(file, one.line, "id", one.id, allowed, note=note, kind="id"))
        if isinstance(one, Applicant) and not faults:
            taken.append(one)
        else:
            rejected.append(Rejected(one.line, one.id, tuple(faults)))
    return tuple(sorted(taken, key=lambda one: one.id)), tuple(rejected)
