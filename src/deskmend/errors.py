"""Faults in what people wrote, and how they are shown.

A fault says where something stands, what was read and what is allowed there. Loaders gather faults and
raise them together, so one run shows everything that has to be mended.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar, overload

A = TypeVar("A")
B = TypeVar("B")
C = TypeVar("C")
D = TypeVar("D")

MAX_SHOWN = 80
"""Longest piece of a file's text that a message repeats [characters]."""

MAX_FAULTS = 1000
"""Most faults kept from one file; a last line says that there may be more."""

_NAMED_ESCAPES = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}


def visible(text: str, limit: int | None = MAX_SHOWN) -> str:
    r"""Show text from a file so that it can do nothing but be read.

    Controls, bidirectional marks, surrogates, private and unassigned characters, and every space but the
    plain one are written as escapes. What is longer than `limit` characters is cut; None cuts nothing.
    Shown once more without a limit, the result stays as it is.

    >>> visible("chair\x1b[31m"), visible("chair and desk", limit=5)
    ('chair\\x1b[31m', 'chair...')
    """
    cut = limit is not None and len(text) > limit
    shown = [one if one.isprintable() else _escaped(one) for one in (text[:limit] if cut else text)]
    return "".join(shown) + ("..." if cut else "")


def _escaped(character: str) -> str:
    code = ord(character)
    if character in _NAMED_ESCAPES:
        return _NAMED_ESCAPES[character]
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def nearest(word: str, allowed: Iterable[str]) -> str | None:
    """Return the allowed word most like what was read; None where nothing comes near.

    Letter case and ``-``, ``_`` or spaces between words count for nothing; long texts are like nothing.

    >>> nearest("Foot-Bar", ["foot_bar", "floor"]), nearest("sofa", ["foot_bar", "floor"])
    ('foot_bar', None)
    """
    if not word or len(word) > MAX_SHOWN:
        return None
    by_plain = {_plain(candidate): candidate for candidate in sorted(allowed, reverse=True)}
    close = difflib.get_close_matches(_plain(word), list(by_plain), n=1, cutoff=0.6)
    return by_plain[close[0]] if close else None


def _plain(word: str) -> str:
    return word.casefold().replace("-", "_").replace(" ", "_")


def did_you_mean(word: str, allowed: Iterable[str]) -> str:
    """Return ``did you mean X?`` for the nearest allowed word, or an empty text."""
    near = nearest(word, allowed)
    return f"did you mean {near}?" if near is not None and near != word else ""


class Unreadable(ValueError):
    """A text that cannot be taken for what it should be; who knows where it stands makes a `Fault` of it.

    `allowed` says what may stand there, `hint` asks or advises, and `note` says what is wrong where quoting
    the text does not; the last two may be empty.
    """

    def __init__(self, allowed: str, hint: str = "", note: str = "") -> None:
        self.allowed = allowed
        self.hint = hint
        self.note = note
        super().__init__(f"allowed {allowed}" + (f"; {hint}" if hint else ""))


@dataclass(frozen=True)
class Fault:
    """One thing wrong in what a person wrote."""

    file: str
    """Path as the user gave it."""
    line: int | None
    """Counted from 1; None where the whole file is meant."""
    where: str
    """Name of the value, as ``places.kitchen.seat.height``; empty where the whole file is meant."""
    read: str | None
    """Text that was read; None where nothing stands there."""
    allowed: str
    """What may stand there, in plain words."""
    hint: str = ""
    """A question or advice, as ``did you mean 1580?``."""
    note: str = ""
    """What is wrong, where quoting the text read does not say it."""
    kind: str = ""
    """Column of a table, so that rows with the same fault can be told together; empty where each stands
    for itself."""

    def __str__(self) -> str:
        """Return the fault as one line, safe to print: what is allowed may name the file's own ids."""
        place = visible(self.file, None) + (f":{self.line}" if self.line is not None else "")
        if self.where:
            place += f": {visible(self.where, 2 * MAX_SHOWN)}"
        parts = [visible(self.note, None)] if self.note else []
        if self.read is not None:
            parts.append(f'read "{visible(self.read)}"')
        elif not self.note:
            parts.append("missing")
        if self.allowed:
            parts.append(f"allowed {visible(self.allowed, None)}")
        if self.hint:
            parts.append(visible(self.hint, None))
        return f"{place}: {'; '.join(parts)}"


def option_fault(option: str, read: str | None, allowed: str, hint: str = "", note: str = "") -> Fault:
    """Make the fault of an option, or of what else stands on the command line."""
    return Fault("command line", None, option, read, allowed, hint, note)


def why_unusable(error: Exception) -> str:
    """Why a path cannot be used, as the system says it."""
    return error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"


class FaultList:
    """Gathers the faults of one file, up to a bound.

    A hostile file can hold half a million faults; the bound keeps memory and the message readable. What
    was left out is said, never silent.
    """

    def __init__(self, file: str, limit: int = MAX_FAULTS) -> None:
        self.file = file
        self.limit = limit
        self._faults: list[Fault] = []

    @property
    def full(self) -> bool:
        """Whether further faults would be left out, so that a loader may stop early."""
        return len(self._faults) >= self.limit

    def add(
        self,
        line: int | None,
        where: str,
        read: str | None,
        allowed: str,
        hint: str = "",
        note: str = "",
        kind: str = "",
    ) -> None:
        """Record one fault of this file; the values are those of `Fault`."""
        self.extend([Fault(self.file, line, where, read, allowed, hint, note, kind)])

    def extend(self, faults: Iterable[Fault]) -> None:
        """Record several faults, in the order they should be shown within a line."""
        for fault in faults:
            if self.full:
                return
            self._faults.append(fault)

    def __bool__(self) -> bool:
        """Tell whether any fault was recorded."""
        return bool(self._faults)

    def __iter__(self) -> Iterator[Fault]:
        """Give the faults by line, those of the whole file first; equal ones once."""
        yield from sorted(dict.fromkeys(self._faults), key=lambda fault: fault.line or 0)
        if self.full:
            yield Fault(
                self.file, None, "", None, "", note=f"the list ends at {self.limit}; there may be more"
            )

    def raise_if_any(self) -> None:
        """Raise `InputFaults` where at least one fault was recorded."""
        if self:
            raise InputFaults(self)


class InputFaults(Exception):
    """Everything found wrong in what people wrote, raised at once, in the order it is shown."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        """Return all faults, one a line."""
        return "\n".join(str(fault) for fault in self.faults)

    def beside(self, *reads: Callable[[], object]) -> InputFaults:
        """These faults with what other readings find wrong; equal ones once."""
        faults = dict.fromkeys(self.faults)
        for read in reads:
            try:
                read()
            except InputFaults as error:
                faults.update(dict.fromkeys(error.faults))
        return InputFaults(faults)


@overload
def read_each(one: Callable[[], A], two: Callable[[], B], /) -> tuple[A, B]: ...


@overload
def read_each(one: Callable[[], A], two: Callable[[], B], three: Callable[[], C], /) -> tuple[A, B, C]: ...


@overload
def read_each(
    one: Callable[[], A], two: Callable[[], B], three: Callable[[], C], four: Callable[[], D], /
) -> tuple[A, B, C, D]: ...


@overload
def read_each(*reads: Callable[[], A]) -> tuple[A, ...]: ...


def read_each(*reads: Callable[[], object]) -> tuple[object, ...]:
    """What each of some readings hands back; `InputFaults` with what all of them find wrong.

    So whoever mends one fault is told of the others too.
    """
    found: list[object] = []
    for number, read in enumerate(reads, 1):
        try:
            found.append(read())
        except InputFaults as error:
            raise error.beside(*reads[number:]) from None
    return tuple(found)


class DefectError(Exception):
    """A check inside deskmend failed: a defect of ours, never the user's fault (exit code 70)."""
