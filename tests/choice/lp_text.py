"""A linear model as text, for reading and for comparing with what was reviewed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from deskmend.choice.program.solver import Coefficients, LinearModel


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


def _sum(terms: Coefficients, columns: Sequence[str]) -> str:
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
