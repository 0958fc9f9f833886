"""deskmend: which fixes to a workstation take most strain off for the money, time and skill at hand.

The public calls are loaded when they are first asked for, so that ``import deskmend`` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from deskmend import risk
    from deskmend.api import (
        add_entries,
        allocate,
        assess,
        check_allocation,
        compare,
        measure,
        plan,
        strike_out,
        undo_round,
    )
    from deskmend.casebook.store import open_casebook
    from deskmend.intake.applicants import load_applicants
    from deskmend.intake.case_file import load_case
    from deskmend.intake.catalog import load_catalog, load_learned
    from deskmend.intake.prices import load_prices

__all__ = [
    "__version__",
    "add_entries",
    "allocate",
    "assess",
    "check_allocation",
    "compare",
    "load_applicants",
    "load_case",
    "load_catalog",
    "load_learned",
    "load_prices",
    "measure",
    "open_casebook",
    "plan",
    "risk",
    "strike_out",
    "undo_round",
]

__version__ = "0.1.0"

_CALLS = (
    "add_entries",
    "allocate",
    "assess",
    "check_allocation",
    "compare",
    "measure",
    "plan",
    "strike_out",
    "undo_round",
)
_LOADERS = {
    "load_applicants": "intake.applicants",
    "load_case": "intake.case_file",
    "load_catalog": "intake.catalog",
    "load_learned": "intake.catalog",
    "load_prices": "intake.prices",
    "open_casebook": "casebook.store",
}
"""Calls that stand in other modules, which are all that they load."""
_SCORES = ("rosa", "rula", "scores.day")


def __getattr__(name: str) -> Any:
    if name in _CALLS:
        return getattr(import_module("deskmend.api"), name)
    if name in _LOADERS:
        return getattr(import_module(f"deskmend.{_LOADERS[name]}"), name)
    if name == "risk":
        package = import_module("deskmend.risk")
        for score in _SCORES:
            import_module(f"deskmend.risk.{score}")
        return package
    raise AttributeError(f"module 'deskmend' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
