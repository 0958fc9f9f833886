"""The record of how a fund was shared, ``decision.json``: out of what, by which rules, with what proof.

It holds the hash of every file beside it and, last, that of itself, so that a folder can be held against it
years later.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from deskmend.grants.fund import FundShared
from deskmend.grants.rounds import round_entries, with_round
from deskmend.intake.catalog import Catalog
from deskmend.intake.hashes import catalog_digest, file_digest, running_version, text_digest
from deskmend.intake.ledger import Ledger, entry_line, ledger_text
from deskmend.intake.sender import Sender
from deskmend.language import LANGUAGES, LENGTH_UNITS, current_language, current_unit
from deskmend.report.allocation import allocation_document, allocation_files
from deskmend.report.documents import json_text, money_json
from deskmend.report.other_documents import AllocationDocument, DecisionDocument, InputRecord, LedgerRecord

__all__ = [
    "DECISION",
    "DecisionInputs",
    "WrittenRound",
    "given_options",
    "sealed",
    "written_round",
]

DECISION = "decision.json"
"""Name of the record within the folder."""
SEAL = "seal"


@dataclass(frozen=True)
class DecisionInputs:
    """What a decision rests on besides the table: files as they were named, and what was asked."""

    applicants: str
    prices: str
    catalog: Catalog
    options: Mapping[str, Any]
    """Every option of the command that names no file, as it was given: a list where it may be repeated."""
    today: date | None = None
    already: str = ""
    columns: str = ""
    ledger: str = ""
    sender: str = ""
    price_file: str = ""
    """Price table, and below, the folder of the catalog, where they were asked for; empty where they are what
    is taken of itself."""
    catalog_folder: str = ""


@dataclass(frozen=True)
class WrittenRound:
    """What a round writes: every file of its folder, and the whole ledger with the round in it."""

    files: Mapping[str, str | bytes]
    ledger: str = ""
    """Empty where none is kept."""


def written_round(
    shared: FundShared,
    inputs: DecisionInputs,
    ledger: Ledger | None,
    letters: bool = False,
    contact: str | None = None,
    sender: Sender | None = None,
) -> WrittenRound:
    """Write down a fund that was shared; letters and their senders as in `allocation_files`."""
    catalog = inputs.catalog
    files = allocation_files(shared, catalog, letters, contact, sender)
    record = _decision_text(shared, inputs, ledger, allocation_document(shared, catalog), files)
    whole = ""
    if ledger is not None:
        whole = ledger_text(with_round(ledger, shared, catalog, inputs.today, text_digest(record)))
    return WrittenRound({**files, DECISION: record}, whole)


def given_options(options: Mapping[str, object]) -> dict[str, Any]:
    """Options as a decision keeps them: those that were given or stand for something."""
    return {
        name: list(value) if isinstance(value, tuple) else value
        for name, value in options.items()
        if value not in (None, (), [], False)
    }


def _command(inputs: DecisionInputs) -> Iterator[str]:
    """Words of a command that shares the fund again, where its files lie side by side."""
    yield from ("deskmend", "allocate", Path(inputs.applicants).name)
    for name, value in sorted(inputs.options.items()):
        option = "--time" if name == "seconds" else f"--{name.replace('_', '-')}"
        for one in value if isinstance(value, list) else [value]:
            yield from (option,) if one is True else (option, str(one))
    for option, path in (
        ("--catalog", inputs.catalog_folder),
        ("--prices", inputs.price_file),
        ("--already", inputs.already),
        ("--columns", inputs.columns),
        ("--ledger", inputs.ledger),
        ("--sender", inputs.sender),
    ):
        if path:
            yield from (option, Path(path).name)
    if inputs.today is not None:
        yield from ("--today", inputs.today.isoformat())
    for option, chosen, usual in (
        ("--language", current_language(), LANGUAGES[0]),
        ("--units", current_unit(), LENGTH_UNITS[0]),
    ):
        if chosen != usual:
            yield from (option, chosen)


def _decision_text(
    shared: FundShared,
    inputs: DecisionInputs,
    book: Ledger | None,
    summary: AllocationDocument,
    files: Mapping[str, str | bytes],
) -> str:
    """The record of a decision; `files` are all others of the folder."""

    def named(path: str) -> InputRecord | None:
        return {"file": Path(path).name, "sha256": file_digest(path)} if path else None

    ledger: LedgerRecord | None = None
    if book is not None:
        added = "".join(map(entry_line, round_entries(book, shared, inputs.catalog)))
        ledger = {
            "file": Path(book.path).name,
            # nothing for a ledger that was not there yet
            "sha256": text_digest(ledger_text(book)) if book.digest else "",
            "entries": text_digest(added),
        }

    document: DecisionDocument = {
        "format": "deskmend-decision/1",
        "version": running_version(),
        "applicants": named(inputs.applicants),
        "prices": named(inputs.prices),
        "catalog": {"file": inputs.catalog.folder.name, "sha256": catalog_digest(inputs.catalog)},
        "already": named(inputs.already),
        "columns": named(inputs.columns),
        "ledger": ledger,
        "round": None if book is None else book.next_round,
        "today": "" if inputs.today is None else inputs.today.isoformat(),
        "options": dict(sorted(inputs.options.items())),
        "command": list(_command(inputs)),
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
                "by": row.decided.by,
                "on": row.decided.on,
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
