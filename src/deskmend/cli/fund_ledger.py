"""What ``deskmend allocate`` does without applicants: a folder checked; a ledger told, kept, undone."""

from __future__ import annotations

from pathlib import Path

from deskmend.cli import output
from deskmend.cli.files import write_over
from deskmend.cli.options import Shared
from deskmend.cli.output import emit
from deskmend.errors import InputFaults, option_fault
from deskmend.language import tr

__all__ = ["check_folder", "without_applicants"]


def without_applicants(
    given: Shared,
    ledger: str | None,
    check: str | None,
    undo: bool,
    entries: str | None,
    strike: str | None,
) -> int:
    """Do the one thing that was asked; `InputFaults` where it is none, or several."""
    asked = [name for name, one in (("--check", check), ("--undo", undo), ("--entries", entries),
                                    ("--strike", strike)) if one]  # fmt: skip
    if len(asked) > 1:
        raise InputFaults([option_fault(asked[1], None, f"one thing at a time, and not {asked[0]} as well")])
    if check is not None:
        return check_folder(given, check, ledger)
    if ledger is None:
        where, allowed = (asked[0], "--ledger FILE beside it") if asked else (
            "APPLICANTS", "a table of applicants; or --check FOLDER, or --ledger FILE alone"
        )  # fmt: skip
        raise InputFaults([option_fault(where, None, allowed)])
    return _ledger(given, ledger, undo, entries, strike)


def check_folder(given: Shared, folder: str, ledger: str | None = None) -> int:
    """Confirm a written folder, or refute it with every fault; a ledger has to hold its round."""
    from deskmend.intake.hashes import catalog_digest, file_digest
    from deskmend.intake.ledger import load_ledger
    from deskmend.report.folder_check import folder_faults, ledger_faults

    found, decision = folder_faults(folder)
    for option, key, digest in (
        ("--prices", "prices", None if given.price_file is None else file_digest(given.price_file)),
        ("--catalog", "catalog", None if given.catalog_folder is None else catalog_digest(given.catalog())),
    ):
        if digest is not None and digest != ((decision.get(key) or {}).get("sha256")):
            path = given.price_file if option == "--prices" else given.catalog_folder
            note = "is not what the fund was shared with"
            found.append(option_fault(option, path, "the same as then", note=note))
    if ledger is not None:
        found += ledger_faults(folder, decision, load_ledger(ledger))
    if found:
        raise InputFaults(found)
    count = len(decision["files"])
    told = tr(
        "Confirmed: {folder} is as it was written, {count} files, and what they say adds up.",
        folder=folder,
        count=count,
    )
    given.answer(
        lambda: {
            "format": "deskmend-folder-check/1",
            "folder": folder,
            "confirmed": True,
            "files": count,
        },
        lambda: emit(f"{told}\n"),
    )
    return output.DONE


def _ledger(given: Shared, path: str, undo: bool, entries: str | None, strike: str | None) -> int:
    from deskmend.grants.rounds import taken_back
    from deskmend.intake.ledger import ledger_text, load_ledger, struck_out
    from deskmend.intake.ledger_entries import load_entries
    from deskmend.report.ledger import ledger_document, ledger_page, round_taken_back

    before = after = load_ledger(path)
    told = ""
    if undo:
        after, last = taken_back(before, given.today)
        if last is None:
            raise InputFaults([option_fault("--undo", None, "a ledger with a round that counts")])
        told = round_taken_back(last)
    elif entries is not None:
        after = load_entries(entries, before, given.catalog())
    elif strike is not None:
        after = struck_out(before, strike)
    if after is not before:
        write_over(Path(path), ledger_text(after), before.digest)
    given.answer(
        lambda: ledger_document(after),
        lambda: emit((f"{told}\n" if told else "") + ledger_page(after, given.catalog())),
    )
    return output.DONE
