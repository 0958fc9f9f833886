"""The sender file: who hands a page or a letter over, with date, reference and notes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from deskmend.errors import InputFaults
from deskmend.intake.reading.fields import free_text, word
from deskmend.intake.reading.records import Record, read_records
from deskmend.intake.reading.yaml_tree import read_tree

__all__ = ["Sender", "load_sender"]

_Line = Annotated[str, free_text(200)]


class Sender(Record):
    """Who hands something over. All is free text, shown as it stands."""

    format: Annotated[Literal["deskmend-sender/1"], word(Literal["deskmend-sender/1"])]
    """Format of the file."""
    name: _Line
    """Name of the person or body that sends it."""
    address: tuple[_Line, ...] = ()
    """Lines of the address, from the top."""
    contact: _Line | None = None
    """Whom to ask, and how: a name, a telephone, an address."""
    date: _Line | None = None
    """Day of the letter, as it is to be written; nothing is taken from a clock."""
    reference: _Line | None = None
    """What the matter is filed under."""
    notes: tuple[Annotated[str, free_text(1000)], ...] = ()
    """Remarks to the reader, a paragraph each."""


def load_sender(path: str | Path) -> Sender:
    """Read a sender file; `InputFaults` with every fault."""
    tree, faults = read_tree(path)
    if tree is None:
        raise InputFaults(faults)
    sender, found = read_records(tree, Sender)
    if sender is None or faults:
        raise InputFaults([*faults, *found])
    return sender
