"""A written folder held against its own record and against itself: confirmed, or every fault in it.

The record gives the hash of each file. Beside that, what the files say is added up again from the files
alone, so that a folder whose record was written anew is found out too where it does not add up.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from deskmend.errors import Fault, FaultList
from deskmend.intake.hashes import text_digest
from deskmend.intake.ledger import STRUCK, Ledger, entry_line, ledger_text
from deskmend.report.decision import DECISION, SEAL, sealed

__all__ = ["folder_faults", "ledger_faults"]

MOST_FILES = 500_000
"""Most files looked at in one folder."""

Row = dict[str, str]
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
        sum((_amount_read(one.amount) for one in own if one.entry == kind), Decimal(0))
        for kind in ("order", "given")
    )
    wrong: list[tuple[str, object, object]] = []
    for where, read, allowed in (
        ("fund", head.fund, decision.get("fund")),
        ("round", head.round, decision.get("round")),
        ("date", head.date, decision.get("today")),
        ("policy", head.policy, decision.get("policy")),
        ("status", head.status, decision.get("status")),
        ("amount", _amount_read(head.amount), ordered),
        ("amount", _amount_read(head.amount), handed),
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

    def table(self, name: str) -> list[Row]:
        try:
            text = (self.root / name).read_bytes().decode("utf-8")
            return list(csv.DictReader(io.StringIO(text), strict=True))
        except (OSError, UnicodeDecodeError, csv.Error):
            self.unread.append(
                Fault(
                    str(self.root / name), None, "", None, "a table that can be read", note="cannot be read"
                )
            )
            return []

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


def _amount_read(text: object) -> Decimal:
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
        cost = _amount_read(order.get("packs")) * _amount_read(order.get("unit_price"))
        if cost != _amount_read(order.get("cost")):
            yield wrong("purchase_order.csv", line, "cost", order.get("cost"), cost)
    new = sum((_amount_read(order.get("cost")) for order in orders), Decimal(0))
    spent, already = _amount_read(summary.get("spent")), _amount_read(summary.get("already"))
    if spent - already != new:
        yield wrong("summary.json", None, "spent", summary.get("spent"), already + new)
    left = _amount_read(summary.get("fund")) - spent
    if not left.is_finite() or left != _amount_read(summary.get("left")) or left < 0:
        yield wrong("summary.json", None, "left", summary.get("left"), left)
    paid: Counter[str] = Counter()
    for gift in gifts:
        paid[str(gift.get("id"))] += _amount_read(gift.get("cost"))  # type: ignore[assignment]
    for line, person in enumerate(people, start=2):
        cost = Decimal(paid.get(str(person.get("id")), 0))
        if _amount_read(person.get("cost")) != cost:
            yield wrong("people.csv", line, "cost", person.get("cost"), cost)
        before, free, after = (
            _amount_read(person.get(f"strain_{key}")) for key in ("before", "free", "after")
        )
        known = all(one.is_finite() for one in (before, free, after))
        if not known or not after <= free <= before:
            yield wrong(
                "people.csv", line, "strain_after", after, f"at most {free}, and that at most {before}"
            )
        if "relief" in person:
            relief = _amount_read(person.get("weight")) * (free - after)
            if not relief == _amount_read(person.get("relief")):
                yield wrong("people.csv", line, "relief", person.get("relief"), relief)
    if people and "relief" in people[0]:
        whole = sum((_amount_read(person.get("relief")) for person in people), Decimal(0))
        said = (summary.get("fairness") or {}).get("relief")
        if not whole.is_finite() or said != float(whole):
            yield wrong("summary.json", None, "fairness.relief", said, whole)
        now = sum((_amount_read(person.get("cost_now")) for person in people), Decimal(0))
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
