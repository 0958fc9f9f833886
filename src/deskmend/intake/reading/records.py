"""Turning a tree of texts into records, with every fault in plain words; measures and how sure they are.

`read_records` serves cases, catalogs and applicant tables alike: it checks a tree against a record class,
gathers all faults and names for each the file, the line, what was read and what is allowed.

``height: 452`` may also be written ``height: {value: 452, sd: 8, from: pictured}``. What is read is a number
like any other, so that whatever reckons with it need not know; only spreads ask for the rest.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
import types
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from types import MappingProxyType
from typing import Annotated, Any, Literal, TypeVar, Union, cast, get_args, get_origin

from pydantic import (
    BaseModel,
    ConfigDict,
    GetJsonSchemaHandler,
    ValidationError,
    create_model,
    model_validator,
)
from pydantic_core import CoreSchema, ErrorDetails

from deskmend.errors import Fault, FaultList, Unreadable, did_you_mean
from deskmend.intake.reading.fields import FieldKind, ranges, read_quantity, read_word, shape_of, word
from deskmend.intake.reading.yaml_tree import Loc, YamlTree, to_plain
from deskmend.measures import Mm, Range
from deskmend.published import read_table

_R = TypeVar("_R", bound=BaseModel)

_PLAIN_TYPES: Mapping[str, str] = {
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "bool_type": "yes or no",
    "bool_parsing": "yes or no",
    "string_type": "a text",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a group of keys",
    "mapping_type": "a group of keys",
}


class Record(BaseModel):
    """A group of keys in a file: frozen, and no other keys are taken.

    A key with nothing behind it counts as left out, and so does ``unknown`` where the field can be left out
    and has no such word of its own.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        hide_input_in_errors=True,
        arbitrary_types_allowed=True,
    )

    @model_validator(mode="before")
    @classmethod
    def _leave_out_blanks(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        return {key: one for key, one in value.items() if not cls._is_blank(key, one)}

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> Any:
        """The schema of the record, in which each key says what it is."""
        schema = handler(core_schema)
        for key, own in handler.resolve_ref_schema(schema).get("properties", {}).items():
            if key in meanings(cls):
                own["description"] = meanings(cls)[key]
        return schema

    @classmethod
    def _is_blank(cls, key: object, value: object) -> bool:
        field = cls.model_fields.get(key) if isinstance(key, str) else None
        if field is None:
            return False
        return value is None or (value == "unknown" and not field.is_required() and field.default is None)


@cache
def meanings(record: type[BaseModel]) -> Mapping[str, str]:
    """What each key of a record is, as the docstrings under its fields say.

    Read from the source when first asked for: plans never ask, and to read all records takes them 0.1 s.
    """
    out: dict[str, str] = {}
    for base in reversed(record.__mro__):
        if issubclass(base, Record):
            out |= _docstrings_in(base)
    return MappingProxyType({key: text for key, text in out.items() if key in record.model_fields})


def _docstrings_in(record: type[BaseModel]) -> dict[str, str]:
    try:
        text = inspect.getsource(record)
    except OSError:
        # made by `create_model`: there is nothing written under its fields
        return {}
    (made,) = ast.parse(textwrap.dedent(text)).body
    assert isinstance(made, ast.ClassDef)
    return {
        field.target.id: inspect.cleandoc(under.value.value)
        for field, under in pairwise(made.body)
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)
        if isinstance(under, ast.Expr) and isinstance(under.value, ast.Constant)
        if isinstance(under.value.value, str)
    }


def read_records(tree: YamlTree, model: type[_R]) -> tuple[_R | None, list[Fault]]:
    """Check the content of a file against a record class; None with every fault, by line."""
    return read_plain(to_plain(tree.root), model, tree.file, tree)


def read_plain(
    plain: Any, model: type[_R], file: str, lines: YamlTree | int | None = None
) -> tuple[_R | None, list[Fault]]:
    """Check texts, as from a row of a table, against a record class; None with every fault, by line.

    Lines come from a tree of the same shape, or are one for all (a table's row).
    """
    try:
        return model.model_validate(plain), []
    except ValidationError as error:
        faults = FaultList(file)
        for detail in error.errors(include_url=False, include_input=True):
            if faults.full:
                break
            if not _miscounted(detail):
                faults.extend([_fault(detail, model, plain, file, lines)])
        return None, list(faults)


def fault_at(
    loc: Loc,
    plain: Any,
    file: str,
    lines: YamlTree | int | None,
    read: str | None,
    allowed: str,
    hint: str = "",
    note: str = "",
) -> Fault:
    """Make the fault of a value found by its path, as `Fault`.

    The texts the path leads through give members of lists their names; lines are as in `read_plain`.
    """
    line = lines.line_of(loc) if isinstance(lines, YamlTree) else lines
    return Fault(file, line, name_of(loc, plain), read, allowed, hint, note)


def name_of(loc: Loc, plain: Any) -> str:
    """Name a value as people find it: a member of a list goes by its id, else by its number from 1.

    >>> name_of(("places", 0, "seat", "height"), {"places": [{"id": "kitchen"}]})
    'places.kitchen.seat.height'
    """
    names = []
    node = plain
    for part in loc:
        if isinstance(part, int):
            node = node[part] if isinstance(node, Sequence) and -1 < part < len(node) else None
            own = node.get("id") if isinstance(node, dict) else None
            names.append(own if isinstance(own, str) and own else str(part + 1))
        else:
            node = node.get(part) if isinstance(node, dict) else None
            names.append(part)
    return ".".join(names)


def _fault(
    detail: ErrorDetails, model: type[BaseModel], plain: Any, file: str, lines: YamlTree | int | None
) -> Fault:
    kind = detail["type"]
    loc = tuple(part for part in detail["loc"] if part != "[key]")
    allowed = _allowed(model, loc)
    given = detail["input"]
    read = str(given) if isinstance(given, str | int | float) else None
    hint, note = "", ""
    if kind == "extra_forbidden":
        keys = _keys(_descend(model, loc[:-1]))
        read, allowed = str(loc[-1]), f"the keys {', '.join(keys)}"
        hint, note = did_you_mean(read, keys), "unknown key"
        line = lines.key_line(loc) if isinstance(lines, YamlTree) else lines
        return Fault(file, line, name_of(loc[:-1], plain), read, allowed, hint, note)
    if kind == "missing":
        read = None
    elif kind == "value_error":
        cause = (detail.get("ctx") or {}).get("error")
        if isinstance(cause, Unreadable):
            allowed, hint, note = cause.allowed, cause.hint, cause.note
        else:
            note = str(cause)
    elif kind == "literal_error":
        words = _words(_descend(model, loc))
        allowed, hint = ", ".join(words), did_you_mean(read or "", words)
    elif kind in ("too_long", "too_short"):
        context = detail.get("ctx") or {}
        many = context.get("max_length") if kind == "too_long" else context.get("min_length")
        allowed = f"at {'most' if kind == 'too_long' else 'least'} {many}"
        note = f"has {len(given)}" if isinstance(given, list | tuple | dict) else ""
    elif kind in _PLAIN_TYPES and not allowed:
        allowed = _PLAIN_TYPES[kind]
    if read is None and not note and kind != "missing":
        note = f"is {shape_of(given)}"
    return fault_at(loc, plain, file, lines, read, allowed or "another value", hint, note)


def _miscounted(detail: ErrorDetails) -> bool:
    """Tell whether a list was called short only because members with faults of their own were not counted."""
    context = detail.get("ctx") or {}
    least, given = context.get("min_length"), detail["input"]
    return (
        detail["type"] == "too_short"
        and isinstance(given, list | tuple | dict)
        and len(given) >= (least or 0)
    )


def _descend(annotation: Any, loc: Loc) -> Any:
    """Follow a path through record classes, lists and mappings to the type that stands there."""
    for part in loc:
        kind = _kind(annotation)
        annotation = kind.group() if kind is not None and kind.group is not None else _bare(annotation)
        arguments = get_args(annotation)
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            field = annotation.model_fields.get(str(part))
            if field is None:
                return None
            annotation = field
        elif arguments:
            annotation = arguments[-1] if isinstance(part, str) else arguments[0]
        else:
            return None
    return annotation


def group_at(tree: Any, loc: Iterable[str | int]) -> Any:
    """The group or list at a path; groups that are not there yet are made."""
    for part in loc:
        tree = tree[part] if isinstance(part, int) else tree.setdefault(part, {})
    return tree


def _bare(annotation: Any) -> Any:
    """Take off what surrounds a type: the field, ``Annotated``, and ``| None``."""
    while True:
        if hasattr(annotation, "annotation") and hasattr(annotation, "metadata"):
            annotation = annotation.annotation
        elif hasattr(annotation, "__metadata__"):
            annotation = annotation.__origin__
        elif get_origin(annotation) in (Union, types.UnionType):
            members = [member for member in get_args(annotation) if member is not type(None)]
            if len(members) != 1:
                return annotation
            annotation = members[0]
        else:
            return annotation


def _allowed(model: type[BaseModel], loc: Loc) -> str:
    found = _descend(model, loc)
    if found is None:
        return ""
    kind = _kind(found)
    if kind is not None:
        return kind.allowed
    bare = _bare(found)
    if keys := _keys(bare):
        return f"a group of the keys {', '.join(keys)}"
    if words := _words(bare):
        return ", ".join(words)
    origin = get_origin(bare)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return "a group of keys"
    if isinstance(origin, type) and issubclass(origin, Sequence):
        return "a list"
    return ""


def _kind(annotation: Any) -> FieldKind | None:
    for one in getattr(annotation, "metadata", getattr(annotation, "__metadata__", ())):
        if isinstance(one, FieldKind):
            return one
    inner = getattr(annotation, "annotation", annotation)
    if get_origin(inner) in (Union, types.UnionType):
        for member in get_args(inner):
            if (kind := _kind(member)) is not None:
                return kind
    elif inner is not annotation and hasattr(inner, "__metadata__"):
        return _kind(inner)
    return None


def _keys(annotation: Any) -> list[str]:
    kind = _kind(annotation)
    bare = kind.group() if kind is not None and kind.group is not None else _bare(annotation)
    if isinstance(bare, type) and issubclass(bare, BaseModel):
        return list(bare.model_fields)
    return []


def _words(annotation: Any) -> list[str]:
    bare = _bare(annotation)
    return [str(one) for one in get_args(bare)] if get_origin(bare) is Literal else []


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
