"""Documents for programs: one writer of JSON for strain, money and quantities; faults and failures.

Of faults of tables, where the same one stands in many rows, text shows the first ones in full and how many
more there are.
"""

from __future__ import annotations

import json
import math
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from deskmend.errors import Fault, visible
from deskmend.language import tr
from deskmend.measures import MILLION, Micro, Minor, format_amount

if TYPE_CHECKING:
    from deskmend.report.case_documents import Bought
    from deskmend.report.other_documents import FailureDocument, FaultsDocument

if TYPE_CHECKING:
    from deskmend.planning.bill import BillLine
    from deskmend.planning.model.offers import OptionSpec

__all__ = [
    "IN_FULL",
    "Document",
    "bought_json",
    "checked_document",
    "failure_document",
    "failure_text",
    "fault_lines",
    "faults_document",
    "faults_text",
    "json_text",
    "money_json",
    "names_json",
    "quantity_json",
    "regions_json",
    "strain_json",
]

Document = Any
"""A part of a document whose keys hang on what is registered, as scores; `case_documents` has the rest."""


def json_text(document: Mapping[str, Any]) -> str:
    """Write a document in ASCII alone, so that no character can steer a terminal; it ends in a line end.

    Raises ValueError where a number is not finite.
    """
    text = json.dumps(_whole(document), indent=2, allow_nan=False, ensure_ascii=True)
    return text.replace("\x7f", "\\u007f") + "\n"


def _whole(value: Any) -> Any:
    """Copy with lone surrogates replaced: a file name may hold them, and strict readers refuse them."""
    if isinstance(value, str):
        alone = any("\ud800" <= character <= "\udfff" for character in value)
        return value.encode("utf-8", "replace").decode("utf-8") if alone else value
    if isinstance(value, Mapping):
        return {_whole(key): _whole(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_whole(one) for one in value]
    return value


def strain_json(strain: Micro) -> float:
    """Strain-hours a day with at most six decimals.

    The double nearest to the exact value, which is written back with the same digits up to a thousand
    million hours.
    """
    return strain / MILLION


def regions_json(by_region: Mapping[str, Micro]) -> dict[str, float]:
    """Strain-hours a day by region."""
    return {region: strain_json(strain) for region, strain in by_region.items()}


def quantity_json(value: float | None) -> float | None:
    """Any other quantity in its unit, with three decimals and no minus before zero; None: not a number."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), 3) + 0.0


def money_json(minor: Minor | None, currency: str) -> str | None:
    """Money as decimal text."""
    return None if minor is None else format_amount(minor, currency)


def bought_json(lines: Iterable[BillLine], currency: str) -> list[Bought]:
    """What is bought, with what all packs of a thing cost."""
    return [{"item": one.item, "packs": one.packs, "cost": money_json(one.cost, currency)} for one in lines]


def names_json(options: Iterable[OptionSpec]) -> list[str]:
    """Fixes as ``assess --with`` takes them."""
    return [option.with_name for option in options]


IN_FULL = 20
"""Most faults of one kind that are shown in full."""

_MOST_STRETCHES = 12
"""Most stretches of lines that the others are told by."""

_NUMBER = re.compile(r"\d+")


def fault_lines(faults: Iterable[Fault]) -> Iterator[str]:
    """Show faults, one a line, safe to print; those of one kind beyond the first ones in one line together.

    That line comes where the first of them would, and names the lines of all.
    """
    every = list(faults)
    alike: dict[tuple[str, ...], list[Fault]] = defaultdict(list)
    for fault in every:
        if fault.kind and fault.line is not None:
            alike[_sort(fault)].append(fault)
    beyond: dict[Fault, Sequence[Fault]] = {}
    hidden: set[Fault] = set()
    for same in alike.values():
        rest = same[IN_FULL:]
        if len(rest) > 1:
            beyond[rest[0]] = rest
            hidden.update(rest)
    for fault in every:
        if fault in beyond:
            yield _together(beyond[fault])
        elif fault not in hidden:
            yield str(fault)


def _sort(fault: Fault) -> tuple[str, ...]:
    """What faults of one kind share; numbers differ from row to row, as in ``less than 3.20 on line 3``."""
    return fault.file, fault.kind, _NUMBER.sub("0", fault.allowed), _NUMBER.sub("0", fault.note)


def _together(rest: Sequence[Fault]) -> str:
    first = rest[0]
    lines = sorted({fault.line for fault in rest if fault.line is not None})
    where = f"on {'line' if len(lines) == 1 else 'lines'} {_stretches(lines)}"
    place = f"{visible(first.file, None)}:{first.line}: {visible(first.kind)}"
    return f"{place}: {len(rest)} more of the same kind, {where}"


def _stretches(lines: Sequence[int]) -> str:
    """Line numbers as ``22 to 61, 65``."""
    found: list[list[int]] = []
    for line in lines:
        if found and line == found[-1][1] + 1:
            found[-1][1] = line
        else:
            found.append([line, line])
    shown = [str(a) if a == b else f"{a} to {b}" for a, b in found[:_MOST_STRETCHES]]
    return ", ".join(shown) + (f" and others up to {lines[-1]}" if len(found) > _MOST_STRETCHES else "")


def faults_text(faults: Iterable[Fault]) -> str:
    """Faults, one a line; many of one kind in a table, as a column of wrong dates, are told together."""
    return "".join(f"{line}\n" for line in fault_lines(faults))


def faults_document(faults: Iterable[Fault]) -> FaultsDocument:
    """Faults as a document, format ``deskmend-faults/1``: each one, however many are alike."""
    return {
        "format": "deskmend-faults/1",
        "faults": [
            {
                "file": fault.file,
                "line": fault.line,
                "where": fault.where,
                "read": fault.read,
                "allowed": fault.allowed,
                "hint": fault.hint,
                "note": fault.note,
            }
            for fault in faults
        ],
    }


def checked_document(kinds: Mapping[str, str], faults: Iterable[Fault]) -> FaultsDocument:
    """What ``check`` found, format ``deskmend-faults/1``, with the kind of each file looked at."""
    document = faults_document(faults)
    document["files"] = [{"file": file, "kind": kind} for file, kind in kinds.items()]
    return document


def failure_text(hinders: str, would_help: str, signs: Sequence[str] = ()) -> str:
    """Why there is no plan, and what would help; what warning signs call for comes first."""
    told = tr("No plan: {hinders}; {would_help}.", hinders=hinders, would_help=would_help)
    return "".join(f"{visible(line, None)}\n" for line in (*signs, told))


def failure_document(code: int, hinders: str, would_help: str, signs: Sequence[str] = ()) -> FailureDocument:
    """Why there is no result, format ``deskmend-failure/1``; what warning signs call for as warnings."""
    told: FailureDocument = {
        "format": "deskmend-failure/1",
        "exit": code,
        "hinders": hinders,
        "would_help": would_help,
    }
    if signs:
        told["warnings"] = list(signs)
    return told
