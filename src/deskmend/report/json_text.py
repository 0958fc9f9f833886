"""How a case is called on a page.

Writing a document as JSON text: the same bytes on every machine, safe to show in a terminal.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from deskmend.intake.case import Case
from deskmend.language import tr

__all__ = ["case_name", "json_text"]


def json_text(document: Mapping[str, Any]) -> str:
    """Write a document.

    Parameters
    ----------
    document : mapping
        Texts, whole and decimal numbers, true, false, None, lists and mappings.

    Returns
    -------
    str
        ASCII alone: every other character is escaped, so none can steer a terminal. Ends in a line end.

    Raises
    ------
    ValueError
        A number is not finite.
    """
    text = json.dumps(_whole(document), indent=2, allow_nan=False, ensure_ascii=True)
    return text.replace("\x7f", "\\u007f") + "\n"


def _whole(value: Any) -> Any:
    """Copy with lone surrogates replaced: a file name may hold them, and strict readers refuse them."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8") if _has_surrogate(value) else value
    if isinstance(value, Mapping):
        return {_whole(key): _whole(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_whole(one) for one in value]
    return value


def _has_surrogate(text: str) -> bool:
    return any("\ud800" <= character <= "\udfff" for character in text)


def case_name(case: Case) -> str:
    """Title of a case; its file's name without folders where it has none, so that no path is shown."""
    return case.title or (Path(case.source).stem if case.source else tr("untitled case"))
