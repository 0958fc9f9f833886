"""Turning a tree of texts into records, with every fault in plain words.

`read_records` serves cases, catalogs and applicant tables alike: it checks a tree against a record class,
gathers all faults and names for each the file, the line, what was read and what is allowed.
"""

from __future__ import annotations

import types
from collections.abc import Mapping, Sequence
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator
from pydantic_core import ErrorDetails

from deskmend.errors import Fault, FaultList, Unreadable, did_you_mean
from deskmend.intake.reading.fields import FieldKind, shape_of
from deskmend.intake.reading.yaml_tree import Loc, YamlTree, to_plain

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
        use_attribute_docstrings=True,
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
    def _is_blank(cls, key: object, value: object) -> bool:
        field = cls.model_fields.get(key) if isinstance(key, str) else None
        if field is None:
            return False
        return value is None or (value == "unknown" and not field.is_required() and field.default is None)


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
