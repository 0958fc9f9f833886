"""Records of a cut list: what is cut out of the materials of a made fix, and how large."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import model_validator

from deskmend.intake.cut_expressions import EXPRESSION, Expression
from deskmend.intake.fields import ID, YES_NO, FieldFault, FieldKind, free_text
from deskmend.intake.records import Record

__all__ = ["Cut"]


def _whole(allowed: str, low: int, high: int) -> FieldKind:
    def read(value: Any, _: dict[str, Any]) -> int:
        text = str(value)
        if not (text.isascii() and text.isdigit() and len(text) < 6 and low <= int(text) <= high):
            raise FieldFault(allowed)
        return int(text)

    return FieldKind(allowed, read)


COUNT = _whole("a whole number from 1 to 100", 1, 100)
FROM_SIZE = _whole("a whole number from 1 to 10000", 1, 10_000)


class Cut(Record):
    """One kind of piece; lengths [mm] are sums of numbers, ``size`` and fields of the state."""

    part: Annotated[str, free_text(80)]
    """What the piece becomes."""
    of: Annotated[str, ID] | None = None
    """Item of the fix's materials it is cut from; left out where it is cut off what stands there."""
    count: Annotated[int, COUNT] = 1
    """How many, all alike."""
    length: Annotated[Expression, EXPRESSION]
    """Longest side [mm]."""
    width: Annotated[Expression, EXPRESSION] | None = None
    """Second side [mm]; left out where it is the material's own."""
    width_to: Annotated[Expression, EXPRESSION] | None = None
    """Width at the other end, where the piece tapers [mm]."""
    thickness: Annotated[Expression, EXPRESSION] | None = None
    """Third side [mm]; left out where it is the material's own."""
    thickness_to: Annotated[Expression, EXPRESSION] | None = None
    """Thickness at the other end, where the piece tapers [mm]."""
    from_size: Annotated[int, FROM_SIZE] | None = None
    """The piece is needed only from this size on, in the unit of the size."""
    fit: Annotated[bool, YES_NO] = False
    """The size is a start: measure where it goes before cutting."""

    @model_validator(mode="after")
    def _sides(self) -> Cut:
        for side in ("width", "thickness"):
            if getattr(self, f"{side}_to") is not None and getattr(self, side) is None:
                raise FieldFault(f"{side}_to only with {side}")
        return self

    @property
    def sides(self) -> tuple[tuple[Expression, Expression | None], ...]:
        """Length, width and thickness as far as given, each with its value at the other end."""
        given = (
            (self.length, None),
            (self.width, self.width_to),
            (self.thickness, self.thickness_to),
        )
        return tuple((side, other) for side, other in given if side is not None)
