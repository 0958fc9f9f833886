"""The range of values taken for each measured key, read from ``ranges.csv``."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import cast

from deskmend.units import Kind, Range


@cache
def ranges() -> Mapping[str, Range]:
    """Return the range of every measured key.

    Returns
    -------
    mapping of str to Range
        Key, as ``seat.height``, to the values taken, in the unit of its kind. Status: judgement.
    """
    text = files("deskmend.intake").joinpath("ranges.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return MappingProxyType(
        {row["key"]: Range(cast(Kind, row["kind"]), float(row["low"]), float(row["high"])) for row in rows}
    )
