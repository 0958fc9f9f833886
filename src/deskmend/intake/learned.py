"""Parts of the days on which habits count as kept, learned from a casebook, laid over a catalog."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from deskmend.errors import FaultList, did_you_mean
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import PEOPLE, SHARE, KeptUp, number_between
from deskmend.intake.reading.fields import ID, word
from deskmend.intake.reading.records import Record, read_records
from deskmend.intake.reading.yaml_tree import load_tree

__all__ = ["KeptUpHere", "load_learned"]

_KEPT = number_between("a whole number of people", 0, 10_000_000, whole=True)
_WEIGHT = number_between("a number of cases up to 1000", 0, 1000)


class LearnedShare(Record):
    """What was learned of one fix."""

    id: Annotated[str, ID]
    """Name of a fix that the catalog has a figure for."""
    share: Annotated[float, SHARE]
    """Of all days, 0 to 1."""
    cases: Annotated[int, PEOPLE]
    """People who did it."""
    kept: Annotated[int, _KEPT]
    """Those of them who still do it."""
    weight: Annotated[float, _WEIGHT]
    """Cases that the catalog's figure counts for."""


class LearnedFile(Record):
    """All that was learned."""

    format: Annotated[str, word(Literal["deskmend-learned/1"])]
    """Format and version."""
    fixes: Annotated[tuple[LearnedShare, ...], Field(max_length=1000)]
    """One a fix."""


class KeptUpHere(KeptUp):
    """The figure of a catalog weighed against what was counted.

    That one who still does it does it on all days, and one who gave it up on none, is a judgement.
    """

    cases: int
    """People who did it."""
    kept: int
    """Those of them who still do it."""
    weight: float
    """Cases that the catalog's figure counts for."""


def load_learned(catalog: Catalog, path: str | Path) -> Catalog:
    """Lay what was learned over a catalog.

    Parameters
    ----------
    catalog : Catalog
        From `load_catalog`.
    path : str or Path
        A file of format ``deskmend-learned/1``, as ``deskmend casebook learn --out`` writes it.

    Returns
    -------
    Catalog
        With the parts of the days [-] learned in place of its own.

    Raises
    ------
    InputFaults
        The file cannot be read, or names a fix that the catalog has no such figure for.
    """
    tree = load_tree(path)
    read, found = read_records(tree, LearnedFile)
    faults = FaultList(str(path))
    faults.extend(found)
    figures = {fix.id: fix.kept_up for fix in catalog.fixes if fix.kept_up is not None}
    learned: dict[str, KeptUpHere] = {}
    for number, one in enumerate(() if read is None else read.fixes):
        line = tree.line_of(("fixes", number, "id"))
        figure = figures.get(one.id)
        if figure is None:
            hint = did_you_mean(one.id, figures)
            faults.add(line, f"fixes.{one.id}", one.id, "a fix with kept_up in the catalog", hint)
        elif one.id in learned:
            faults.add(line, f"fixes.{one.id}", one.id, "each fix once")
        elif one.kept > one.cases:
            faults.add(line, f"fixes.{one.id}.kept", str(one.kept), f"at most {one.cases}, the cases")
        else:
            learned[one.id] = KeptUpHere(
                share=one.share,
                sources=figure.sources,
                why=figure.why,
                status="judgement",
                cases=one.cases,
                kept=one.kept,
                weight=one.weight,
            )
    faults.raise_if_any()
    fixes = tuple(
        fix.model_copy(update={"kept_up": learned[fix.id]}) if fix.id in learned else fix
        for fix in catalog.fixes
    )
    return replace(catalog, fixes=fixes)
