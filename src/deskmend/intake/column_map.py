"""Our names for the columns of somebody's own form: one line a column, theirs and ours."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from deskmend.errors import FaultList, did_you_mean
from deskmend.intake.applicants import OWN, OWNS, columns, spread_columns
from deskmend.intake.reading.text_file import read_bounded_text

__all__ = ["load_column_map"]

_MOST_BYTES = 1_000_000
_ARROW = re.compile(r"\s*->\s*")
_BETWEEN = re.compile(r"\s*[,;\t:=]\s*")
ALLOWED = "THEIR NAME -> our.key, as Height of the desk -> desk.height"


def load_column_map(path: str | Path) -> Mapping[str, str]:
    """Read a map of columns: ``their name -> our.key``, or a comma, semicolon, tab or colon between the two.

    Where no arrow stands, ours is what stands behind the last separator. Lines that begin with ``#`` are
    notes. Raises `InputFaults` with every line that names no column of ours, or one that was named before.
    """
    faults = FaultList(str(path))
    text = read_bounded_text(path, _MOST_BYTES, faults)
    known = {*OWN, *columns(), *spread_columns()}
    found: dict[str, str] = {}
    used: dict[str, int] = {}
    for number, line in enumerate((text or "").splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        theirs, ours = _pair(line)
        good = ours in known or ours.startswith(OWNS)
        if not good and not found and (theirs.casefold(), ours.casefold()) in _HEADERS:
            continue
        if not theirs or not good:
            faults.add(number, "", line.strip(), ALLOWED, did_you_mean(ours, known))
        elif ours in used or theirs in found:
            before = f"first on line {used.get(ours, number)}"
            faults.add(number, "", line.strip(), "each column once", "", f"named twice, {before}")
        else:
            found[theirs] = ours
            used[ours] = number
    if not found and not faults:
        faults.add(None, "", None, ALLOWED, "", "names no columns")
    faults.raise_if_any()
    return found


_HEADERS = frozenset((("theirs", "ours"), ("their name", "our key"), ("their", "our"), ("column", "key")))


def _pair(line: str) -> tuple[str, str]:
    """Their name and ours, without the quotes around either."""
    parts = _ARROW.split(line)
    if len(parts) < 2:
        cut = list(_BETWEEN.finditer(line))
        parts = [line[: cut[-1].start()], line[cut[-1].end() :]] if cut else [line, ""]
    theirs, ours = (part.strip().strip("\"'").strip() for part in (parts[0], parts[-1]))
    return theirs, ours.rstrip(",;").strip("\"'")
