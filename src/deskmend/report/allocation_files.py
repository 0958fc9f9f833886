"""Every file that sharing a fund writes, by name."""

from __future__ import annotations

from deskmend.grants.fund import FundShared
from deskmend.intake.catalog import Catalog
from deskmend.report.allocation_json import allocation_document
from deskmend.report.allocation_tables import (
    allocation_table,
    order_table,
    people_table,
    rejected_table,
    waiting_table,
)
from deskmend.report.json_text import json_text
from deskmend.report.letter import letter

__all__ = ["allocation_files"]


def allocation_files(shared: FundShared, catalog: Catalog, letters: bool) -> dict[str, str]:
    """Write all files of a fund shared.

    Parameters
    ----------
    shared : FundShared
        The fund shared; with steps where letters are wanted.
    catalog : Catalog
        For the titles of things.
    letters : bool
        Whether to write one letter a person.

    Returns
    -------
    dict of str to str
        Text by path within the folder.
    """
    files = {
        "allocation.csv": allocation_table(shared),
        "people.csv": people_table(shared),
        "purchase_order.csv": order_table(shared),
        "waiting.csv": waiting_table(shared),
        "summary.json": json_text(allocation_document(shared)),
    }
    if shared.table.rejected:
        files["rejected.csv"] = rejected_table(shared)
    if letters:
        for person in shared.applicants:
            files[f"letters/letter_{person.id}.txt"] = letter(shared, person.id, catalog)
    return files
