"""Ids, and the way a fix is named: ``[PLACE.|TASK.]FIX[=VALUE]``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

ID_PATTERN = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}", re.ASCII)

ALLOWED_ID = "a letter or digit, then up to 63 letters, digits, _ or -"

ALLOWED_FIX_NAME = "FIX, PLACE.FIX or TASK.FIX, with =VALUE behind it where a size is chosen"

_VALUE_PATTERN = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.+-]{0,63}|-[0-9.]{1,16}", re.ASCII)


@dataclass(frozen=True)
class FixName:
    """One fix as people name it.

    Attributes
    ----------
    prefix : str or None
        Id of the place or task, where it was given.
    fix : str
        Id of the fix.
    value : str or None
        Size or choice behind ``=``, as written.
    """

    prefix: str | None
    fix: str
    value: str | None

    def __str__(self) -> str:
        """Return the name as ``--with`` takes it."""
        prefix = f"{self.prefix}." if self.prefix is not None else ""
        return f"{prefix}{self.fix}" + (f"={self.value}" if self.value is not None else "")


def is_id(text: str) -> bool:
    """Tell whether a text may be an id.

    Parameters
    ----------
    text : str
        Any text; nothing is repaired or stripped.

    Returns
    -------
    bool
        True for a letter or digit followed by at most 63 letters, digits, ``_`` or ``-``.
    """
    return ID_PATTERN.fullmatch(text) is not None


def parse_fix_name(text: str) -> FixName | None:
    """Take the name of a fix apart.

    Parameters
    ----------
    text : str
        As ``kitchen.screen_books=105``.

    Returns
    -------
    FixName or None
        Its parts; None where the text is no such name. Whether place, task, fix and value exist is not
        looked at.
    """
    name, equals, value = text.partition("=")
    prefix, dot, fix = name.rpartition(".")
    if not is_id(fix) or (dot and not is_id(prefix)) or (equals and not _VALUE_PATTERN.fullmatch(value)):
        return None
    return FixName(prefix if dot else None, fix, value if equals else None)


def repeated(ids: Iterable[str]) -> list[tuple[int, int]]:
    """Find ids that are the same without regard to letter case.

    Parameters
    ----------
    ids : iterable of str
        Ids sharing one namespace, in the order written.

    Returns
    -------
    list of (int, int)
        Position of each repeated id with the position of its first use.
    """
    first: dict[str, int] = {}
    pairs = []
    for position, name in enumerate(ids):
        earlier = first.setdefault(name.casefold(), position)
        if earlier != position:
            pairs.append((position, earlier))
    return pairs
