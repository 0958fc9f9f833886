"""The short text of each step for the printed sheet: there for every fix, whole, never over 90 characters."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from pydantic import ValidationError
from tests.planning.cases import CATALOG, made

from deskmend.intake.catalog_records import Fix
from deskmend.language import LANGUAGES, LENGTH_UNITS, measuring, reading
from deskmend.planning.model.offers import OptionSpec
from deskmend.report.steps import filled, how_text, short_text
from deskmend.workstation.state import PERSON, state_of

LONGEST = 90
"""Characters that the sheet has room for."""
MEASURED = {"mm": (20.0, 1190.0), "deg": (-12.0, 45.0)}
"""Ends of what a case may offer where a fix has no sizes of its own."""


def sizes_of(fix: Fix) -> Iterator[float | str | None]:
    """Every size that a fix can have, or the ends where they come from the case."""
    size = fix.size
    if size is None:
        yield None
    elif size.words:
        yield from size.words
    elif size.of is not None:
        # a place or a seat has a name of its own, up to 64 characters
        yield from MEASURED.get(size.unit, ("x" * 64,))
    else:
        low, high = float(size.low or 0), float(size.high or 0)
        step = size.step or 1.0
        yield from (low + step * number for number in range(round((high - low) / step) + 1))


def option_of(fix: Fix, size: float | str | None) -> OptionSpec:
    """A fix as an option of one size."""
    return OptionSpec(
        name="any", fix=fix, owner=PERSON, size=size, pieces=(), changes=(), moves_to=None, use={}
    )


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("unit", LENGTH_UNITS)
def test_every_short_text_fits_the_sheet_at_every_size(language: str, unit: str) -> None:
    with reading(language), measuring(unit):
        for fix in CATALOG.fixes:
            assert fix.short is not None, fix.id
            for size in sizes_of(fix):
                told = filled(fix.short, option_of(fix, size))
                assert len(told) <= LONGEST, (fix.id, size, told)
                assert told.endswith("."), told
                assert not re.search(r"[{}]|\.\.\.", told), told


def test_a_fix_without_a_short_text_says_all_of_how_it_is_done() -> None:
    state = state_of(made())
    towel = CATALOG.by_id["back_towel"]
    own = option_of(towel.model_copy(update={"short": None}), None)
    assert short_text(own, state, state) == " ".join(how_text(own, state, state))
    assert short_text(option_of(towel, None), state, state) == towel.short


def test_a_longer_one_is_refused() -> None:
    with pytest.raises(ValidationError, match="at most 90 characters"):
        Fix.model_validate(CATALOG.by_id["back_towel"].model_dump() | {"short": "x" * 91})
