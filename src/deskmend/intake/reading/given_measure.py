"""A measure as people give it: a number alone, or with how sure it is and how it was come by.

``height: 452`` may also be written ``height: {value: 452, sd: 8, from: pictured}``. What is read is a number
like any other, so that whatever reckons with it need not know; only spreads ask for the rest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, Literal, cast, get_args

from pydantic import BaseModel, create_model

from deskmend.errors import Unreadable
from deskmend.intake.reading.fields import FieldKind, ranges, read_quantity, read_word, word
from deskmend.intake.reading.records import Record
from deskmend.measures import Mm, Range
from deskmend.published import read_table

MeasureOrigin = Literal["taped", "pictured", "told", "estimated"]
"""How a measure was come by: with a tape, from a picture, told from memory, or judged by eye."""

SPREADS: Mapping[str, str] = {"length": "measure.sd", "angle": "measure.sd_angle"}
"""Row of ``ranges.csv`` for the standard deviation of each kind of measure that can have one."""


class GivenMeasure(float):
    """A length or angle with its standard deviation and origin, each None where not told.

    It is a plain number in every sum and comparison, and the rest is lost there.
    """

    sd: float | None
    origin: MeasureOrigin | None

    def __new__(
        cls, value: float, sd: float | None = None, origin: MeasureOrigin | None = None
    ) -> GivenMeasure:
        """Make a number that also knows how sure it is."""
        made = super().__new__(cls, value)
        made.sd, made.origin = sd, origin
        return made


@dataclass(frozen=True)
class Spread:
    """How far a measure of one origin is off where the case does not say."""

    bias: float
    """What is told less what is true [mm] or [deg]."""
    sd: float
    """Standard deviation [mm] or [deg]."""


@cache
def usual_spreads() -> Mapping[tuple[str, str], Spread]:
    """Return the usual spreads by origin, and by key or kind of measure; sources stand in the table."""
    return MappingProxyType(
        {
            (row["from"], row["of"]): Spread(float(row["bias"]), float(row["sd"]))
            for row in read_table("deskmend.intake", "measure_spreads.csv")
        }
    )


def spread_of(value: float, key: str) -> Spread | None:
    """How far a measure of a row of ``ranges.csv`` may be off; None where the case tells nothing of it.

    >>> spread_of(GivenMeasure(1700, origin="told"), "person.stature")
    Spread(bias=9.0, sd=18.0)
    """
    if not isinstance(value, GivenMeasure) or (value.sd is None and value.origin is None):
        return None
    known = usual_spreads()
    usual = known.get((value.origin or "", key)) or known.get((value.origin or "", ranges()[key].kind))
    if value.sd is None:
        return usual
    return Spread(0.0 if usual is None else usual.bias, value.sd)


def likely(value: Mm, key: str) -> Mm:
    """What a measure most likely is: what was told, less what people add when they tell it."""
    spread = spread_of(value, key)
    return float(value) if spread is None else float(value) - spread.bias


def is_guess(value: object) -> bool:
    """Whether a value is a measure that somebody estimated."""
    return isinstance(value, GivenMeasure) and value.origin == "estimated"


@cache
def _record(key: str) -> type[BaseModel]:
    """Group of keys that a measure may be written as."""
    limits = ranges()[key]
    plain = FieldKind(str(limits), lambda value, _: read_quantity(value, limits))
    spread = ranges()[SPREADS[limits.kind]]
    sd = FieldKind(str(spread), lambda value, _: read_quantity(value, spread))
    fields: dict[str, Any] = {
        "value": (Annotated[float, plain], ...),
        "sd": (Annotated[float, sd] | None, None),
        "from": (Annotated[MeasureOrigin, word(MeasureOrigin)] | None, None),
    }
    return create_model("MeasureGroup", __base__=Record, **fields)


def _read(value: Any, key: str, limits: Range) -> float:
    if isinstance(value, GivenMeasure) and value in limits:
        return value
    if not isinstance(value, dict) or limits.kind not in SPREADS:
        return read_quantity(value, limits)
    # Faults inside the group are told one by one, each at its own key.
    group = _record(key).model_validate(value).model_dump()
    if group["sd"] is None and group["from"] is None:
        return cast("float", group["value"])
    return GivenMeasure(group["value"], group["sd"], group["from"])


def _group(key: str) -> Any:
    return (lambda: _record(key)) if ranges()[key].kind in SPREADS else None


def measured(key: str) -> FieldKind:
    """Return the kind of a field that gives a float in the unit of a row of ``ranges.csv``.

    A length or angle may be a group of value, sd and from, and is a `GivenMeasure` then.
    """
    limits = ranges()[key]
    return FieldKind(str(limits), lambda value, _: _read(value, key, limits), _group(key))


def word_or_measured(vocabulary: Any, key: str) -> FieldKind:
    """Return the kind of a field that takes a word of a ``Literal``, or a measure as `measured` does."""
    words: tuple[str, ...] = get_args(vocabulary)
    limits = ranges()[key]
    allowed = f"{', '.join(words)}, or {limits}"

    def read(value: Any, _: dict[str, Any]) -> str | float:
        if isinstance(value, str) and not any(character.isdigit() for character in value):
            return read_word(value, words, allowed)
        try:
            return _read(value, key, limits)
        except Unreadable as error:
            raise Unreadable(allowed, error.hint, error.note) from None

    return FieldKind(allowed, read, _group(key))


def without_spread(value: Any) -> Any:
    """Give the text of a measure written as a group of keys; anything else as it is."""
    return value["value"] if isinstance(value, dict) and "value" in value else value
