"""The record of how a fund was shared, its ledger, and a written folder held against its own record.

It holds the hash of every file beside it and, last, that of itself, so that a folder can be held against it
years later.

The record gives the hash of each file. Beside that, what the files say is added up again from the files
alone, so that a folder whose record was written anew is found out too where it does not add up.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from deskmend.errors import Fault, FaultList
from deskmend.grants.fund import FundShared
from deskmend.grants.rounds import round_entries, with_round
from deskmend.intake.case_file import Sender
from deskmend.intake.catalog import Catalog, catalog_digest, file_digest, running_version, text_digest
from deskmend.intake.given_before import GivenBefore, load_given
from deskmend.intake.ledger import (
    STRUCK,
    Ledger,
    LedgerEntry,
    entry_amount,
    entry_line,
    given_by,
    ledger_text,
    not_counted,
    open_ledger,
    state_of_ledger,
)
from deskmend.intake.prices import PriceTable
from deskmend.language import LANGUAGES, LENGTH_UNITS, current_language, current_unit, tr, trn
from deskmend.report.allocation import allocation_document, allocation_files
from deskmend.report.documents import json_text, money_json
from deskmend.report.layout import Page
from deskmend.report.words import item_title, money_text

if TYPE_CHECKING:
    from deskmend.report.other_documents import (
        AllocationDocument,
        DecisionDocument,
        InputRecord,
        LedgerDocument,
        LedgerRecord,
        LedgerRoundRecord,
    )

__all__ = [
    "DECISION",
    "DecisionInputs",
    "WrittenRound",
    "folder_faults",
    "given_options",
    "ledger_document",
    "ledger_faults",
    "ledger_page",
    "round_taken_back",
    "sealed",
    "store_notes",
    "written_round",
]


def ledger_document(ledger: Ledger) -> LedgerDocument:
    """What a ledger comes to, as a document."""
    state = state_of_ledger(ledger)
    rounds: list[LedgerRoundRecord] = [
        {
            "round": one.round or 0,
            "date": one.date,
            "policy": one.policy,
            "status": one.status,
            "fund": one.fund,
            "spent": one.amount,
            "decision": one.decision,
        }
        for one in ledger.rounds
    ]
    return {
        "format": "deskmend-ledger-state/1",
        "ledger": ledger.path,
        "currency": ledger.currency,
        "rounds": rounds,
        "spent": None if not ledger.entries else entry_amount(state.spent, ledger.currency),
        "people": len({name for name, _, _ in state.packs}),
        "gone": sorted(state.gone),
        "store": [
            {"item": item, "size": size, "units": units}
            for (item, size), units in sorted(state.store.items())
            if units
        ],
    }


def _lying(item: str, size: str, units: int, catalog: Catalog) -> str:
    """How much of a thing lies in store, in words."""
    known = item in catalog.items and catalog.items[item].unit == "cm"
    count = f"{units} cm" if known else f"{units} x"
    return f"{count} {item_title(item, catalog)}" + (f", {size}" if size else "")


def ledger_page(ledger: Ledger, catalog: Catalog) -> str:
    """The same in plain words."""
    state = state_of_ledger(ledger)
    page = Page()
    rounds = ledger.rounds
    told = trn("{count} round counts.", "{count} rounds count.", len(rounds))
    spent = money_text(max(0, state.spent), ledger.currency)
    page.paragraph(told + " " + tr("All together {spent} is spent.", spent=spent))
    for one in rounds:
        day = one.date or tr("no day told")
        amount = money_text(ledger.money(one.amount), ledger.currency)
        page.point(f"{one.round}.", tr("{day}: {amount} for things", day=day, amount=amount))
    lying = [(key, units) for key, units in sorted(state.store.items()) if units]
    if lying:
        page.heading(tr("In store"))
    page.points([_lying(item, size, units, catalog) for (item, size), units in lying])
    return page.text()


def round_taken_back(one: LedgerEntry) -> str:
    """That a round does not count any more."""
    return tr(
        "Round {number} is taken back: what it gave counts no more. The files it wrote are left as they are.",
        number=one.round or 0,
    )


def store_notes(ledger: Ledger, given: GivenBefore, prices: PriceTable, catalog: Catalog) -> list[str]:
    """What lies in store and cannot be given by the search: loose pieces, and sizes of a thing with tiers."""
    lying = [
        _lying(item, size, units, catalog)
        for item, size, units in not_counted(ledger, given, prices)
        if item not in catalog.items or not catalog.items[item].shared
    ]
    if not lying:
        return []
    return [tr("in store, but not as whole packs that can be counted on: {things}", things="; ".join(lying))]


def rounds_before(
    already: str | Path | None, ledger: str | Path | None, prices: PriceTable, catalog: Catalog
) -> tuple[GivenBefore | None, PriceTable, Ledger | None, list[str]]:
    """What earlier rounds gave, by a table of it or by a ledger, and the prices that are left with it.

    With the ledger, where there is one, and what has to be said of its store. Raises `InputFaults` where a
    file cannot be read.
    """
    if already is not None:
        return load_given(already, prices), prices, None, []
    if ledger is None:
        return None, prices, None, []
    book = open_ledger(ledger, prices.currency)
    given, left = given_by(book, prices, catalog)
    return given, left, book, store_notes(book, given, left, catalog)


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


MOST_FILES = 500_000
"""Most files looked at in one folder."""

CsvRow = dict[str, str]
_FIGURE = re.compile(r"-?[0-9]{1,20}(\.[0-9]{1,9})?", re.ASCII)


def folder_faults(folder: str | Path) -> tuple[list[Fault], dict[str, Any]]:
    """Everything in a folder that is not as it was written or does not add up, and its record."""
    root = Path(folder)
    record = root / DECISION
    if not root.is_dir():
        return [
            Fault(str(root), None, "--check", None, "a folder that allocate wrote", note="is no folder")
        ], {}
    faults = FaultList(str(record))
    try:
        text = record.read_bytes().decode("utf-8")
        decision = json.loads(text)
        sound = isinstance(decision, dict) and decision.get("format") == "deskmend-decision/1"
    except (OSError, ValueError, RecursionError):
        sound, text, decision = False, "", {}
    if not sound:
        faults.add(None, "", None, "the record of a decision", "", "is missing or cannot be read")
        return list(faults), {}
    if sealed(decision) != text:
        note = "is not as it was written: it does not fit its own seal"
        faults.add(None, SEAL, str(decision.get(SEAL)), "the record as it was written", "", note)
    found = list(faults)
    found += _files(root, decision)
    found += _sums(root, decision)
    return found, decision


def _files(root: Path, decision: dict[str, Any]) -> Iterator[Fault]:
    """Files that are missing, strange or changed."""
    written = decision.get("files")
    known: dict[str, Any] = written if isinstance(written, dict) else {}
    there = set()
    for number, path in enumerate(sorted(root.rglob("*"))):
        if number > MOST_FILES:
            yield Fault(str(root), None, "", None, f"at most {MOST_FILES} files", note="holds too many files")
            return
        name = path.relative_to(root).as_posix()
        if path.is_dir() and not path.is_symlink():
            if not any(other.startswith(f"{name}/") for other in known):
                yield Fault(str(path), None, "", None, "nothing", note="was not written with the others")
            continue
        there.add(name)
        if name == DECISION:
            continue
        if name not in known:
            yield Fault(str(path), None, "", None, "nothing", note="was not written with the others")
        elif path.is_symlink() or not path.is_file() or text_digest(path.read_bytes()) != known[name]:
            yield Fault(str(path), None, "", None, "the file as it was written", note="has been changed")
    for name in sorted(set(known) - there):
        yield Fault(str(root / name), None, "", None, "the file as it was written", note="is missing")


def ledger_faults(folder: str | Path, decision: dict[str, Any], ledger: Ledger) -> list[Fault]:
    """Where a ledger does not hold the round of a folder as it was written.

    A person struck out since has lines written anew: then only the sums are held against each other.
    """
    record = Path(folder) / DECISION
    digest = text_digest(record.read_bytes()) if record.is_file() else ""
    head = next((one for one in ledger.rounds if one.decision == digest), None)
    if head is None:
        note = "is of no round that counts in the ledger"
        return [Fault(str(record), None, "", None, f"a round of {ledger.path}", note=note)]
    place = ledger.entries.index(head)
    above, below = ledger.entries[:place], ledger.entries[place + 1 :]
    own = [one for one in below if one.round == head.round]
    lines = "".join(map(entry_line, own))
    ordered, handed = (
        sum((_figure(one.amount) for one in own if one.entry == kind), Decimal(0))
        for kind in ("order", "given")
    )
    wrong: list[tuple[str, object, object]] = []
    for where, read, allowed in (
        ("fund", head.fund, decision.get("fund")),
        ("round", head.round, decision.get("round")),
        ("date", head.date, decision.get("today")),
        ("policy", head.policy, decision.get("policy")),
        ("status", head.status, decision.get("status")),
        ("amount", _figure(head.amount), ordered),
        ("amount", _figure(head.amount), handed),
    ):
        if read != allowed:
            wrong.append((where, read, allowed))
    if not any(STRUCK.fullmatch(name) for one in ledger.entries for name in (one.id, one.to)):
        before = text_digest(ledger_text(replace(ledger, entries=above))) if above else ""
        was = decision.get("ledger") or {}
        if was.get("sha256") != before:
            wrong.append(("round", "the lines above it", "those that the round was shared with"))
        if was.get("entries", text_digest(lines)) != text_digest(lines):
            wrong.append(("round", "the lines below it", "those that the round wrote"))
    return [
        Fault(ledger.path, place + 2, where, str(read), str(allowed), note="does not add up")
        for where, read, allowed in wrong
    ]


class _Folder:
    """The tables and the summary of a folder, as far as they can be read."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.unread: list[Fault] = []

    def table(self, name: str) -> list[CsvRow]:
        try:
            text = (self.root / name).read_bytes().decode("utf-8")
            rows = list(csv.DictReader(io.StringIO(text), strict=True))
        except (OSError, UnicodeDecodeError, csv.Error):
            self.unread.append(
                Fault(
                    str(self.root / name), None, "", None, "a table that can be read", note="cannot be read"
                )
            )
            return []
        for line, row in enumerate(rows, start=2):
            if None in row or None in row.values():
                allowed = f"{len([name for name in row if name is not None])} cells, one for each column"
                path = str(self.root / name)
                self.unread.append(Fault(path, line, "", None, allowed, note="the row is not whole"))
        return rows

    def summary(self) -> dict[str, Any]:
        try:
            read = json.loads((self.root / "summary.json").read_bytes())
        except (OSError, ValueError, RecursionError):
            read = None
        if not isinstance(read, dict):
            path = str(self.root / "summary.json")
            self.unread.append(Fault(path, None, "", None, "a document", note="cannot be read"))
            return {}
        return read


def _figure(text: object) -> Decimal:
    """Figure of a cell; what is none is no number, equals nothing, and so is told where it is added up."""
    return Decimal(str(text)) if _FIGURE.fullmatch(str(text)) else Decimal("NaN")


def _sums(root: Path, decision: dict[str, Any]) -> Iterator[Fault]:
    """What does not add up between the tables, the summary and the record."""
    folder = _Folder(root)
    summary = folder.summary()
    gifts, people = folder.table("allocation.csv"), folder.table("people.csv")
    orders, waiting = folder.table("purchase_order.csv"), folder.table("waiting.csv")
    yield from folder.unread
    if folder.unread:
        return

    def wrong(name: str, line: int | None, where: str, read: object, allowed: object) -> Fault:
        return Fault(str(root / name), line, where, str(read), str(allowed), note="does not add up")

    for line, order in enumerate(orders, start=2):
        cost = _figure(order.get("packs")) * _figure(order.get("unit_price"))
        if cost != _figure(order.get("cost")):
            yield wrong("purchase_order.csv", line, "cost", order.get("cost"), cost)
    new = sum((_figure(order.get("cost")) for order in orders), Decimal(0))
    spent, already = _figure(summary.get("spent")), _figure(summary.get("already"))
    if spent - already != new:
        yield wrong("summary.json", None, "spent", summary.get("spent"), already + new)
    left = _figure(summary.get("fund")) - spent
    if not left.is_finite() or left != _figure(summary.get("left")) or left < 0:
        yield wrong("summary.json", None, "left", summary.get("left"), left)
    paid: Counter[str] = Counter()
    for gift in gifts:
        paid[str(gift.get("id"))] += _figure(gift.get("cost"))  # type: ignore[assignment]
    for line, person in enumerate(people, start=2):
        cost = Decimal(paid.get(str(person.get("id")), 0))
        if _figure(person.get("cost")) != cost:
            yield wrong("people.csv", line, "cost", person.get("cost"), cost)
        before, free, after = (_figure(person.get(f"strain_{key}")) for key in ("before", "free", "after"))
        known = all(one.is_finite() for one in (before, free, after))
        if not known or not after <= free <= before:
            yield wrong(
                "people.csv", line, "strain_after", after, f"at most {free}, and that at most {before}"
            )
        if "relief" in person:
            relief = _figure(person.get("weight")) * (free - after)
            if not relief == _figure(person.get("relief")):
                yield wrong("people.csv", line, "relief", person.get("relief"), relief)
    if people and "relief" in people[0]:
        whole = sum((_figure(person.get("relief")) for person in people), Decimal(0))
        said = (summary.get("fairness") or {}).get("relief")
        if not whole.is_finite() or said != float(whole):
            yield wrong("summary.json", None, "fairness.relief", said, whole)
        now = sum((_figure(person.get("cost_now")) for person in people), Decimal(0))
        if now != new:
            yield wrong("people.csv", None, "cost_now", now, new)
    if summary.get("people") != len(people):
        yield wrong("summary.json", None, "people", summary.get("people"), len(people))
    named = Counter(str(one.get("id")) for one in waiting)
    ids = {str(person.get("id")) for person in people}
    for line, row in enumerate(waiting, start=2):
        one = str(row.get("id"))
        if one not in ids or named[one] > 1:
            yield wrong("waiting.csv", line, "id", one, "each of people.csv once at most")
    yield from _record(root, decision, summary)


def _record(root: Path, decision: dict[str, Any], summary: dict[str, Any]) -> Iterator[Fault]:
    """Where record and summary say different things, and where the proof contradicts itself."""
    for key in ("policy", "currency", "fund", "spent", "status", "relief", "bound", "gap"):
        if decision.get(key) != summary.get(key):
            read, allowed = str(decision.get(key)), f"{summary.get(key)}, as in summary.json"
            yield Fault(str(root / DECISION), None, key, read, allowed, note="does not add up")
    relief, bound = summary.get("relief"), summary.get("bound")
    if not isinstance(relief, int | float) or not isinstance(bound, int | float) or bound < relief:
        path = str(root / "summary.json")
        yield Fault(path, None, "bound", str(bound), f"at least the relief, {relief}", note="does not add up")
