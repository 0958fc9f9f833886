"""The records of a table of applicants: good rows as cases of their own, and rows set aside with reasons.

Only texts are kept of a row, so that a hundred thousand applicants fit into memory and travel to other
processes; `Applicant.case` makes the records anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from deskmend.errors import DefectError, Fault
from deskmend.intake.case import Case
from deskmend.intake.case_file import read_case

__all__ = ["WEIGHT_PARTS", "Applicant", "ApplicantTable", "Rejected"]

WEIGHT_PARTS = 1_000
"""A weight of one is this many parts: weights are whole numbers of them."""


@dataclass(frozen=True)
class Applicant:
    """One person who asks for a share.

    Attributes
    ----------
    id : str
        Name in the table.
    line : int
        Row of the table.
    weight : int
        How much the person counts [parts of `WEIGHT_PARTS`].
    group : str
        Group the person belongs to; empty for none.
    plain : mapping
        The case as mappings, lists and texts.
    file : str
        The table.
    """

    id: str
    line: int
    weight: int
    group: str
    plain: Mapping[str, Any]
    file: str

    @property
    def case(self) -> Case:
        """The person's case, with one place and one or two tasks; made anew at each call."""
        case, faults = read_case(self.plain, self.file, self.line)
        if case is None:
            raise DefectError(f"a row that was read is refused now: {'; '.join(map(str, faults))}")
        return case


@dataclass(frozen=True)
class Rejected:
    """A row that is not taken.

    Attributes
    ----------
    line : int
        Row of the table.
    id : str
        As written; empty where there is none.
    faults : tuple of Fault
        Why.
    """

    line: int
    id: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class ApplicantTable:
    """The applicants of a table.

    Attributes
    ----------
    file : str
        Path as the user gave it.
    people : tuple of Applicant
        By id, so that the order of the rows makes no difference.
    rejected : tuple of Rejected
        Rows set aside, by row.
    """

    file: str
    people: tuple[Applicant, ...]
    rejected: tuple[Rejected, ...] = ()
