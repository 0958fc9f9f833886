"""The record of how a fund was shared, ``decision.json``: out of what, by which rules, with what proof.

It holds the hash of every file beside it and, last, that of itself, so that a folder can be held against it
years later.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from deskmend.grants.fund import FundShared
from deskmend.intake.catalog import Catalog
from deskmend.intake.hashes import catalog_digest, file_digest, text_digest
from deskmend.report.documents import json_text, money_json
from deskmend.report.other_documents import AllocationDocument, DecisionDocument, InputRecord, LedgerRecord

__all__ = [
    "DECISION",
    "DecisionInputs",
    "catalog_digest",
    "decision_text",
    "file_digest",
    "sealed",
    "text_digest",
]

DECISION = "decision.json"
"""Name of the record within the folder."""
SEAL = "seal"


@dataclass(frozen=True)
class DecisionInputs:
    """What a decision rests on besides the table: files as they were named, and what was asked."""

    version: str
    """Of this program."""
    applicants: str
    prices: str
    catalog: Catalog
    options: Mapping[str, Any]
    """Every option of the command, as it was given."""
    today: str = ""
    already: str = ""
    columns: str = ""
    ledger: str = ""
    ledger_digest: str = ""
    """SHA-256 of the ledger before the round; empty for a new one."""
    round: int | None = None
    entries: str = ""
    """What the round adds to the ledger below its head, line by line."""


def decision_text(
    shared: FundShared, inputs: DecisionInputs, summary: AllocationDocument, files: Mapping[str, str | bytes]
) -> str:
    """The record of a decision; `files` are all others of the folder."""

    def named(path: str) -> InputRecord | None:
        return {"file": Path(path).name, "sha256": file_digest(path)} if path else None

    ledger: LedgerRecord | None = None
    if inputs.ledger:
        ledger = {
            "file": Path(inputs.ledger).name,
            "sha256": inputs.ledger_digest,
            "entries": text_digest(inputs.entries),
        }

    document: DecisionDocument = {
        "format": "deskmend-decision/1",
        "version": inputs.version,
        "applicants": named(inputs.applicants),
        "prices": named(inputs.prices),
        "catalog": {"file": inputs.catalog.folder.name, "sha256": catalog_digest(inputs.catalog)},
        "already": named(inputs.already),
        "columns": named(inputs.columns),
        "ledger": ledger,
        "round": inputs.round,
        "today": inputs.today,
        "options": dict(sorted(inputs.options.items())),
        "policy": shared.wishes.policy,
        "currency": shared.currency,
        "fund": money_json(shared.wishes.fund, shared.currency),
        "spent": money_json(shared.spent, shared.currency),
        "status": summary["status"],
        "relief": summary["relief"],
        "bound": summary["bound"],
        "gap": summary["gap"],
        "overrides": [
            {
                "id": row.id,
                "fixed": " ".join(row.decided.fixed),
                "never": " ".join(row.decided.never),
                "least": row.decided.least or None,
                "most": row.decided.most or None,
                "reason": row.decided.reason,
            }
            for row in shared.table.people
            if row.decided is not None
        ],
        "files": {name: text_digest(content) for name, content in sorted(files.items())},
    }
    return sealed(json.loads(json_text(document)))


def sealed(document: Mapping[str, Any]) -> str:
    """A document with the hash of all its other keys at its end."""
    bare = {key: value for key, value in document.items() if key != SEAL}
    return json.dumps({**bare, SEAL: text_digest(json.dumps(bare, sort_keys=True))}, indent=2) + "\n"
