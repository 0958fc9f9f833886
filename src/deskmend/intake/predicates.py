"""Conditions on a state, as catalogs write them: ``keyboard is separate``, ``leg_gap at most 10``.

There are six relations and no others; conditions are joined by the lists
``all`` and ``any`` of the record that holds them, never inside the text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

from deskmend.intake.fields import FieldFault, FieldKind

__all__ = ["PREDICATE", "Predicate", "Relation"]

Relation = Literal["is", "is not", "at least", "at most", "over", "under"]

ALLOWED = (
    "NAME is WORD, NAME is not WORD, NAME at least NUMBER, NAME at most NUMBER, NAME over NUMBER or "
    "NAME under NUMBER"
)

_PATTERN = re.compile(
    r"(?P<name>[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?)\s+(?P<relation>is not|is|at least|at most|over|under)\s+"
    r"(?P<value>[a-z][a-z0-9_]*|-?[0-9]+(\.[0-9]+)?)",
    re.ASCII,
)


@dataclass(frozen=True)
class Predicate:
    """One condition.

    Attributes
    ----------
    name : str
        Field or quantity.
    relation : str
        ``is``, ``is not``, ``at least``, ``at most``, ``over`` or ``under``.
    value : str or float
        A word for the first two relations, a number for the others. What is
        unknown meets no condition at all, so it never makes a fix allowed.
    """

    name: str
    relation: Relation
    value: str | float

    def __str__(self) -> str:
        """As written."""
        value = f"{self.value:g}" if isinstance(self.value, float) else self.value
        return f"{self.name} {self.relation} {value}"


def _read(value: Any, _: dict[str, Any]) -> Predicate:
    if isinstance(value, Predicate):
        return value
    match = _PATTERN.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise FieldFault(ALLOWED)
    relation: Any = match["relation"]
    is_word = match["value"][0].isalpha()
    if is_word != (relation in ("is", "is not")):
        raise FieldFault(ALLOWED, note="words go with is, numbers with at least, at most, over and under")
    return Predicate(match["name"], relation, match["value"] if is_word else float(match["value"]))


PREDICATE = FieldKind(ALLOWED, _read)
"""Kind of a field that gives a `Predicate`."""
