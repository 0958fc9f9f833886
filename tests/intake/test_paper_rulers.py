"""Sheets and cards as rulers. Their sizes are quoted from memory: ISO 216, ANSI/ASME Y14.1, ISO/IEC 7810."""

from __future__ import annotations

import pytest

from deskmend.intake.typed_answers import laid_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2 A4 + 1 card", "679.6"),
        ("a4", "297"),
        ("0.5 A4 + 10", "158.5"),
        ("2 letter + 3 mm", "561.8"),
        ("3 cards", "256.8"),
    ],
)
def test_laid_end_to_end(text: str, mm: str) -> None:
    assert laid_length(text) == mm


@pytest.mark.parametrize(
    "text", ["", "297", "100 + 20", "2 A5", "card card", "1e9 A4", "-1 A4", "A4 +", "+".join(["a4"] * 7)]
)
def test_anything_else_is_left_to_the_reader_of_lengths(text: str) -> None:
    assert laid_length(text) is None
