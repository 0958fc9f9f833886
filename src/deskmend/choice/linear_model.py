"""A linear program as plain integers, independent of any solver, and its text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

Sense = Literal["<=", "=", ">="]
Terms = Mapping[int, int]


@dataclass(frozen=True)
class Row:
    """One constraint.

    Parameters
    ----------
    name : str
        Family and what it belongs to, such as ``option[seat]``.
    terms : mapping of int to int
        Coefficient of each column.
    sense : {"<=", "=", ">="}
        How the sum compares to the right side.
    right : int
        Right side.
    """

    name: str
    terms: Terms
    sense: Sense
    right: int

    @property
    def family(self) -> str:
        """What kind of constraint it is: the name up to the bracket."""
        return self.name.partition("[")[0]


@dataclass
class LinearModel:
    """Columns from 0 upward, rows, and objectives to minimise, all in whole numbers.

    Parameters
    ----------
    names : list of str
        Name of each column.
    upper : list of int
        Largest value of each column.
    integer : list of bool
        Whether a column takes whole numbers only.
    rows : list of Row
        The constraints, in the order they were added.
    objectives : dict of str to mapping
        Coefficients by name of the objective.
    """

    names: list[str] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    integer: list[bool] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    objectives: dict[str, Terms] = field(default_factory=dict)

    def column(self, name: str, upper: int = 1, integer: bool = False) -> int:
        """Add a column and return its number."""
        self.names.append(name)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.names) - 1

    def row(self, name: str, terms: Terms, sense: Sense, right: int) -> None:
        """Add a constraint."""
        self.rows.append(Row(name, terms, sense, right))


def lp_text(model: LinearModel, objective: str) -> str:
    """Write a model in the LP format, the same text on every machine.

    Parameters
    ----------
    model : LinearModel
        What to write.
    objective : str
        Which of its objectives to minimise.

    Returns
    -------
    str
        The text; names that the format cannot hold are spelled with underscores and made unique.
    """
    columns = _spelled(model.names)
    rows = _spelled([row.name for row in model.rows])
    lines = ["Minimize", f" {objective}:{_sum(model.objectives[objective], columns) or ' 0'}", "Subject To"]
    for name, row in zip(rows, model.rows, strict=True):
        lines.append(f" {name}:{_sum(row.terms, columns) or ' 0'} {row.sense} {row.right}")
    lines.append("Bounds")
    lines += [f" 0 <= {name} <= {upper}" for name, upper in zip(columns, model.upper, strict=True)]
    lines.append("Generals")
    lines += [f" {name}" for name, integer in zip(columns, model.integer, strict=True) if integer]
    lines.append("End")
    return "\n".join(lines) + "\n"


def _sum(terms: Terms, columns: Sequence[str]) -> str:
    return "".join(
        f" {'-' if factor < 0 else '+'} {abs(factor)} {columns[column]}"
        for column, factor in sorted(terms.items())
        if factor
    )


def _spelled(names: Iterable[str]) -> list[str]:
    spelled: list[str] = []
    seen: set[str] = set()
    for number, name in enumerate(names):
        plain = re.sub(r"[^A-Za-z0-9_.]+", "_", name).strip("_")
        if plain in seen:
            plain = f"{plain}.{number}"
        seen.add(plain)
        spelled.append(plain)
    return spelled
