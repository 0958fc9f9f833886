"""Faults and failures, as text and as JSON documents."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from deskmend.errors import Fault, visible
from deskmend.messages import tr
from deskmend.report.alike_faults import fault_lines

__all__ = ["checked_document", "failure_document", "failure_text", "faults_document", "faults_text"]


def faults_text(faults: Iterable[Fault]) -> str:
    """Faults, one a line; many of one kind in a table, as a column of wrong dates, are told together."""
    return "".join(f"{line}\n" for line in fault_lines(faults))


def faults_document(faults: Iterable[Fault]) -> dict[str, Any]:
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


def checked_document(kinds: Mapping[str, str], faults: Iterable[Fault]) -> dict[str, Any]:
    """What ``check`` found, format ``deskmend-faults/1``, with the kind of each file looked at."""
    document = faults_document(faults)
    document["files"] = [{"file": file, "kind": kind} for file, kind in kinds.items()]
    return document


def failure_text(hinders: str, would_help: str) -> str:
    """Why there is no plan, and what would help."""
    told = tr("No plan: {hinders}; {would_help}.", hinders=hinders, would_help=would_help)
    return f"{visible(told, None)}\n"


def failure_document(code: int, hinders: str, would_help: str) -> dict[str, Any]:
    """Why there is no result, format ``deskmend-failure/1``."""
    return {"format": "deskmend-failure/1", "exit": code, "hinders": hinders, "would_help": would_help}
