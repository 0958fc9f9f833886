"""Reading a file of limited size as text, or saying why not; what a text may hold, and ids of things."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path

from deskmend.errors import FaultList, did_you_mean, why_unusable

_KEPT = frozenset("\u200c\u200d\u00a0\u202f\u3000")
"""Joiners belong to the spelling of several scripts, and typed spaces come in several widths."""


def text_fault(text: str, longest: int, *, lines: bool = False) -> str:
    """Say in a few words what is wrong with a free text; empty where it may stand.

    Control characters and marks that steer the writing direction may not; `lines` lets line ends in. Markup
    is no fault: whoever prints the text escapes it for the page it goes to.
    """
    if len(text) > longest:
        return f"has {len(text)} characters"
    kept = _KEPT | {"\n"} if lines else _KEPT
    if not text.isprintable() and any(
        not character.isprintable() and character not in kept for character in text
    ):
        return "holds a control character"
    return ""


_MAX_NEIGHBOURS = 1000
_NOT_TEXT = re.compile("[\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
"""Controls, and line separators that editors and parsers count differently: no name or note needs them."""


def read_bounded_text(path: str | Path, limit: int, faults: FaultList) -> str | None:
    """Read a whole text file, if it is one of at most `limit` bytes; None where a fault was recorded.

    The size is looked at before anything is read, and no more than `limit` bytes are read even if the
    file grows meanwhile. Folders, devices, pipes, binary files and other encodings are faults. The byte order
    mark is taken off; line ends stay as they are.
    """
    data = read_bounded_bytes(path, limit, faults)
    return None if data is None else decoded(data, faults)


def refuse_file(path: str | Path, limit: int, faults: FaultList) -> bool:
    """Tell whether a file that a library will read is missing, over `limit` bytes, or no plain file.

    The fault is recorded.
    """
    try:
        with open(path, "rb") if Path(path).is_file() else nullcontext():
            return _refuse(os.stat(path), limit, faults)
    except (OSError, ValueError) as error:
        _unreadable(error, path, faults)
        return True


def _unreadable(error: Exception, path: str | Path, faults: FaultList) -> None:
    if isinstance(error, FileNotFoundError):
        faults.add(None, "", None, "a file that exists", _near_file(path), "no such file")
    elif isinstance(error, PermissionError):
        faults.add(None, "", None, "a file that may be read", "", "reading is not permitted")
    else:
        faults.add(None, "", None, "a file that can be read", "", f"cannot be read: {why_unusable(error)}")


def read_bounded_bytes(path: str | Path, limit: int, faults: FaultList) -> bytes | None:
    """Read a whole plain file of at most `limit` bytes; None where a fault was recorded."""
    try:
        status = os.stat(path)
        if _refuse(status, limit, faults):
            return None
        # Opened without waiting and looked at again: a pipe put in the file's place must not hang us.
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with open(descriptor, "rb") as stream:
            if _refuse(os.fstat(stream.fileno()), limit, faults):
                return None
            data = stream.read(limit + 1)
    except (OSError, ValueError) as error:
        _unreadable(error, path, faults)
        return None
    if len(data) > limit:
        faults.add(None, "", None, f"at most {_size(limit)}", "", "the file grew while it was read")
        return None
    return data


def _refuse(status: os.stat_result, limit: int, faults: FaultList) -> bool:
    if stat.S_ISDIR(status.st_mode):
        faults.add(None, "", None, "a file", "", "is a folder")
    elif not stat.S_ISREG(status.st_mode):
        faults.add(None, "", None, "a plain file", "", "is a device or a pipe")
    elif status.st_size > limit:
        faults.add(None, "", None, f"at most {_size(limit)}", "", f"has {_size(status.st_size)}")
    else:
        return False
    return True


def _size(count: int) -> str:
    return f"{count / 1_000_000:.3g} MB" if count >= 100_000 else f"{count} bytes"


def _near_file(path: str | Path) -> str:
    folder, name = os.path.split(path)
    try:
        with os.scandir(folder or ".") as entries:
            names = [entry.name for entry, _ in zip(entries, range(_MAX_NEIGHBOURS), strict=False)]
    except OSError:
        return "that folder does not exist either"
    return did_you_mean(name, names)


def decoded(data: bytes, faults: FaultList) -> str | None:
    """The text of a file's bytes, without a byte order mark; None where a fault was recorded."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        faults.add(None, "", None, "text in UTF-8", "save the file again as UTF-8", "is in UTF-16")
        return None
    if b"\x00" in data:
        faults.add(None, "", None, "text in UTF-8", "", "is a binary file")
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        faults.add(line, "", None, "text in UTF-8", "save the file again as UTF-8", "is not in UTF-8")
        return None
    if not text.strip():
        faults.add(None, "", None, "at least one value", "", "is empty")
        return None
    odd = False
    line, counted = 1, 0
    for match in _NOT_TEXT.finditer(text):
        odd = True
        line += text.count("\n", counted, match.start())
        counted = match.start()
        faults.add(line, "", match[0], "visible characters only", "", "holds a control character")
        if faults.full:
            break
    return None if odd else text


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
