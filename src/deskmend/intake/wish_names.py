"""Whether a wish names something that a catalog and a case have, whatever is on offer there."""

from __future__ import annotations

from deskmend.errors import did_you_mean
from deskmend.intake.case import Case, Place, Task
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.ids import ALLOWED_FIX_NAME, parse_fix_name

__all__ = ["misnamed"]


def misnamed(text: str, case: Case, catalog: Catalog) -> tuple[str, str] | None:
    """Tell what would be allowed in place of a name that means nothing here.

    A fix that must not be in the plan is no fault where it is not on offer; a misspelt one would be passed
    over in silence, and the plan might hold what was refused.

    Parameters
    ----------
    text : str
        As ``kitchen.screen_books=105``.
    case : Case
        For the ids of places, seats and tasks.
    catalog : Catalog
        For the fixes.

    Returns
    -------
    tuple of (str, str) or None
        What is allowed, and a hint that may be empty; None where the name means something.
    """
    name = parse_fix_name(text)
    if name is None:
        return ALLOWED_FIX_NAME, ""
    fix = next((fix for fix in catalog.fixes if fix.id.lower() == name.fix.lower()), None)
    if fix is None:
        return "a fix of the catalog", did_you_mean(name.fix, catalog.by_id)
    if name.prefix is not None:
        owners = [one.id for one in _owners(fix, case)]
        if not owners:
            return f"{fix.id} without a place or task before it", ""
        if name.prefix.lower() not in (one.lower() for one in owners):
            return f"one of {', '.join(owners)} before the point", did_you_mean(name.prefix, owners)
    return None if name.value is None else _missized(name.value, fix, case)


def _owners(fix: Fix, case: Case) -> tuple[Place | Task, ...]:
    if fix.scope == "place":
        return case.places
    return case.tasks if fix.scope == "task" else ()


def _missized(value: str, fix: Fix, case: Case) -> tuple[str, str] | None:
    size = fix.size
    if size is None:
        return f"{fix.id} without a value", ""
    words = list(size.words)
    if size.of == "places":
        words = [place.id for place in case.places]
    elif size.of == "other_seats":
        words = [seat.id for place in case.places for seat in place.other_seats]
    elif not words:
        try:
            float(value)
        except ValueError:
            return f"{fix.id}=VALUE with a number", ""
        return None
    if value.lower() in (word.lower() for word in words):
        return None
    return f"{fix.id}=VALUE with one of {', '.join(words)}", did_you_mean(value, words)
