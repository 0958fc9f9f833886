"""How a case is called on a page."""

from __future__ import annotations

from pathlib import Path

from deskmend.intake.case import Case
from deskmend.messages import tr

__all__ = ["case_name"]


def case_name(case: Case) -> str:
    """Title of a case; its file's name without folders where it has none, so that no path is shown."""
    return case.title or (Path(case.source).stem if case.source else tr("untitled case"))
