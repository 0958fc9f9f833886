"""Ids, and the way a fix is named: ``[PLACE.|TASK.]FIX[=VALUE]``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

ALLOWED_ID = "a letter or digit, then up to 63 letters, digits, _ or -"

ALLOWED_FIX_NAME = "FIX, PLACE.FIX or TASK.FIX, with =VALUE behind it where a size is chosen"

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}", re.ASCII)
_VALUE = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.+-]{0,63}|-[0-9.]{1,16}", re.ASCII)


@dataclass(frozen=True)
class FixName:
    """One fix as people name it."""

    prefix: str | None
    """Id of the place or task, where it was given."""
    fix: str
    value: str | None
    """Size or choice behind ``=``, as written."""

    def __str__(self) -> str:
        """Return the name as ``--with`` takes it."""
        prefix = f"{self.prefix}." if self.prefix is not None else ""
        return f"{prefix}{self.fix}" + (f"={self.value}" if self.value is not None else "")


def is_id(text: str) -> bool:
    """Tell whether a text may be an id; nothing is repaired or stripped.

    >>> is_id("seat_foam"), is_id("2nd-desk"), is_id(" desk"), is_id("../desk")
    (True, True, False, False)
    """
    return _ID.fullmatch(text) is not None


def parse_fix_name(text: str) -> FixName | None:
    """Take the name of a fix apart; None where it is no such name.

    >>> parse_fix_name("kitchen.screen_books=105")
    FixName(prefix='kitchen', fix='screen_books', value='105')
    >>> parse_fix_name("towel_roll"), parse_fix_name("kitchen.")
    (FixName(prefix=None, fix='towel_roll', value=None), None)

    Whether place, task, fix and value exist is not looked at.
    """
    name, equals, value = text.partition("=")
    prefix, dot, fix = name.rpartition(".")
    if not is_id(fix) or (dot and not is_id(prefix)) or (equals and not _VALUE.fullmatch(value)):
        return None
    return FixName(prefix if dot else None, fix, value if equals else None)


def repeated(ids: Iterable[str]) -> list[tuple[int, int]]:
    """Positions of ids that repeat an earlier one, letter case aside, each with that of the first use.

    >>> repeated(["home", "work", "Home"])
    [(2, 0)]
    """
    first: dict[str, int] = {}
    pairs = []
    for position, name in enumerate(ids):
        earlier = first.setdefault(name.casefold(), position)
        if earlier != position:
            pairs.append((position, earlier))
    return pairs
