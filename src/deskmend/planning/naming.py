"""Names of fixes as people write them, and numbers within them."""

from __future__ import annotations

from deskmend.workstation.fields import Value

__all__ = ["number_text"]


def number_text(value: Value) -> str:
    """Size as it stands in a name: whole numbers without a point, words as they are."""
    return f"{value:.6f}".rstrip("0").rstrip(".") if isinstance(value, float | int) else value
