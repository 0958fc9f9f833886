"""The header of a table that people fill in: all that is wrong with its columns in one fault."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from deskmend.errors import FaultList, nearest

__all__ = ["refuse_header"]

NAMED = 8
"""Most columns that one fault names besides the header itself."""

LOOKED_UP = 100
"""Most unknown columns whose nearest spelling is looked for: a hostile header has a million."""


def refuse_header(
    names: Sequence[str],
    line: int,
    faults: FaultList,
    *,
    known: Collection[str],
    needed: Sequence[str],
    allowed: str,
    table: str,
    hint: str = "",
) -> None:
    """Record what is wrong with the columns of a table: one fault for unknown and missing ones together.

    A wrong file has many wrong columns and one cause, so it is told once. A repeated column is a fault of
    its own.

    Parameters
    ----------
    names : sequence of str
        The header as read.
    line : int
        Where it stands.
    faults : FaultList
        Where faults go.
    known : collection of str
        Columns that may stand there.
    needed : sequence of str
        Those that may not be left out.
    allowed : str
        What may stand there, in words.
    table : str
        What the table should be, as ``a price table``.
    hint : str
        Advice where the file is plainly another one; nearest spellings are told if left out.
    """
    have = set(names)
    unknown = [number for number, name in enumerate(names) if name not in known]
    missing = [name for name in needed if name not in have]
    for name, times in Counter(names).items():
        if name and times > 1:
            faults.add(line, name, name, "each column once", "", "repeated column")
    if not unknown and not missing:
        return
    shown = list(dict.fromkeys(names[number] or f"no name in column {number + 1}" for number in unknown))
    advice = hint or _spellings([name for name in shown if name in have], [n for n in known if n not in have])
    if len(unknown) == len(names):
        faults.add(line, "", ",".join(names), allowed, advice, f"holds no column of {table}")
    elif missing:
        note = "missing columns" if len(missing) > 1 else "missing column"
        if shown:
            note += f"; unknown {'columns' if len(shown) > 1 else 'column'} {_listed(shown)}"
        faults.add(line, ", ".join(missing), ",".join(names), allowed, advice, note)
    else:
        note = "unknown columns" if len(shown) > 1 else "unknown column"
        faults.add(line, "", _listed(shown), allowed, advice, note)


def _listed(names: Sequence[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _spellings(unknown: Sequence[str], free: Collection[str]) -> str:
    """Ask for the nearest columns that are not there yet."""
    found = [(near, name) for name in unknown[:LOOKED_UP] if (near := nearest(name, free)) is not None]
    if not found:
        return ""
    if len(unknown) == 1:
        return f"did you mean {found[0][0]}?"
    return f"did you mean {_listed([f'{near} for {name}' for near, name in found])}?"
