"""What sharing a fund starts from: a table of applicants and a price table that fit together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from deskmend.errors import Fault, InputFaults
from deskmend.intake.applicant_records import ApplicantTable
from deskmend.intake.applicants import accepted, in_currency, read_applicants
from deskmend.intake.catalog import Catalog
from deskmend.intake.price_table import PriceTable
from deskmend.intake.prices import load_prices
from deskmend.messages import tr, trn
from deskmend.planning.inputs import DEFAULT_CURRENCY, stale_prices

__all__ = ["FundInputs", "fitted", "load_inputs"]


@dataclass(frozen=True)
class FundInputs:
    """A table and its prices.

    Attributes
    ----------
    table : ApplicantTable
        Rows that can be worked with, and those set aside.
    prices : PriceTable
        What things cost.
    warnings : tuple of str
        What has to be said.
    """

    table: ApplicantTable
    prices: PriceTable
    warnings: tuple[str, ...]


def load_inputs(
    path: str | Path,
    catalog: Catalog,
    price_file: str | Path | None = None,
    skip_invalid: bool = False,
    today: date | None = None,
) -> FundInputs:
    """Read a table and its prices.

    Parameters
    ----------
    path : str or Path
        CSV, XLSX or Parquet.
    catalog : Catalog
        Shows which things, warning signs and fixes exist, and where the sample prices are.
    price_file : str or Path, optional
        Price table; if left out, ``prices.csv`` beside the table, else the shipped sample.
    skip_invalid : bool
        Set rows with faults aside.
    today : date, optional
        Day from which the age of prices is counted.

    Raises
    ------
    InputFaults
        Every fault of the table or of the prices.
    """
    table, faults = read_applicants(path, catalog)
    if table is None:
        raise InputFaults(faults)
    beside = Path(path).parent / "prices.csv"
    notes: list[str] = []
    if price_file is not None:
        prices = load_prices(price_file)
    elif beside.is_file():
        prices = load_prices(beside)
    else:
        prices, notes = _sample(table, catalog)
    return fitted(table, prices, catalog, skip_invalid, [*notes, *stale_prices(prices, today)])


def fitted(
    table: ApplicantTable,
    prices: PriceTable,
    catalog: Catalog,
    skip_invalid: bool = False,
    notes: Iterable[str] = (),
) -> FundInputs:
    """Hold a table against the prices it is to be worked out with.

    Parameters
    ----------
    table : ApplicantTable
        As read.
    prices : PriceTable
        What things cost.
    catalog : Catalog
        Shows what fixes take.
    skip_invalid : bool
        Set rows in another currency aside as well.
    notes : iterable of str
        Warnings from before.

    Raises
    ------
    InputFaults
        Rows are at fault and are not to be set aside.
    """
    table = accepted(in_currency(table, prices.currency), skip_invalid)
    return FundInputs(table, prices, (*notes, *_notes(table, prices, catalog)))


def _sample(table: ApplicantTable, catalog: Catalog) -> tuple[PriceTable, list[str]]:
    written = {row.plain.get("means", {}).get("currency") for row in table.people} - {None, "unknown"}
    currency = written.pop() if len(written) == 1 else DEFAULT_CURRENCY
    file = catalog.price_folder / f"sample_{currency.lower()}.csv"
    if not file.is_file():
        allowed = "--prices FILE, prices.csv beside the table, or a currency with a sample table"
        raise InputFaults([Fault(table.file, None, "means.currency", currency, allowed)])
    note = tr("prices are an invented sample ({file}); fill in your own with --prices FILE", file=file.name)
    return load_prices(file), [note]


def _notes(table: ApplicantTable, prices: PriceTable, catalog: Catalog) -> list[str]:
    out = []
    if table.rejected:
        told = trn("{count} row is set aside", "{count} rows are set aside", len(table.rejected))
        out.append(f"{told}: {tr('the reasons stand in rejected.csv')}")
    own = ("budget", "saving_per_month")
    if any(key in row.plain.get("means", {}) for row in table.people for key in own):
        out.append(tr("money that applicants have themselves is not counted: the fund pays"))
    taken = {material.item for fix in catalog.fixes for material in fix.materials}
    missing = sorted(item for item in taken if item in catalog.items and item not in prices)
    if missing:
        shown = ", ".join(missing[:8]) + (
            tr(" and {count} more", count=len(missing) - 8) if missing[8:] else ""
        )
        out.append(tr("no price for {items}: given to nobody; only who has them can use them", items=shown))
    return out
