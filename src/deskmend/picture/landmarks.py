"""Points that can be marked in a picture, the sheets that give it scale, and what is known of both before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from deskmend.measures import Mm
from deskmend.published import read_table


@dataclass(frozen=True)
class Landmark:
    """A point of the body or of the furniture."""

    name: str
    depth: Mm
    """From the plane of the near hip, towards the camera."""
    depth_sd: Mm
    place_sd: Mm
    """How far from the true point a careful person puts the mark, up and along."""


@dataclass(frozen=True)
class Sheet:
    """A sheet of known size."""

    kind: str
    narrow: Mm
    long: Mm


@cache
def landmarks() -> Mapping[str, Landmark]:
    """Return every point by name; figures and status stand in the table."""
    return MappingProxyType(
        {
            row["name"]: Landmark(
                row["name"],
                float(row["depth"]),
                float(row["depth_sd"]),
                float(row["place_sd"]),
            )
            for row in read_table("deskmend.picture", "landmarks.csv")
        }
    )


@cache
def sheets() -> Mapping[str, Sheet]:
    """Return every sheet by kind."""
    return MappingProxyType(
        {
            row["kind"]: Sheet(row["kind"], float(row["narrow"]), float(row["long"]))
            for row in read_table("deskmend.picture", "sheets.csv")
        }
    )
