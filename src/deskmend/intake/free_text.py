"""What free text in a file may hold."""

from __future__ import annotations

from deskmend.errors import is_unprintable

_KEPT = frozenset("\u200c\u200d\u00a0\u202f\u3000")
"""Joiners belong to the spelling of several scripts, and typed spaces come in several widths."""


def text_fault(text: str, longest: int, *, lines: bool = False) -> str:
    """Say what is wrong with a free text.

    Parameters
    ----------
    text : str
        Any text. Markup is no fault: whoever prints the text escapes it for the page it goes to.
    longest : int
        Most characters taken.
    lines : bool
        Whether line ends are taken.

    Returns
    -------
    str
        A few plain words; empty where the text may stand. Control characters and marks that steer the
        writing direction may not.
    """
    if len(text) > longest:
        return f"has {len(text)} characters"
    if any(
        is_unprintable(character) and character not in _KEPT and not (lines and character == "\n")
        for character in text
    ):
        return "holds a control character"
    return ""
