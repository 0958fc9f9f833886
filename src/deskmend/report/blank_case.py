"""The empty case file: every key, its unit and how to measure it, in plain words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from importlib.resources import files

from deskmend.errors import visible
from deskmend.intake.catalog import Catalog
from deskmend.messages import LANGUAGES, current_language, tr
from deskmend.report.layout import WIDTH

__all__ = ["blank_case"]


def blank_case(catalog: Catalog) -> str:
    """Write an empty case file.

    Parameters
    ----------
    catalog : Catalog
        For the warning signs and things that a case can name.

    Returns
    -------
    str
        YAML that can be read, remarks in the reader's language; ``check`` lists what has to be filled in.
    """
    language = current_language()
    name = "blank_case.yaml" if language == LANGUAGES[0] else f"blank_case.{language}.yaml"
    template = files("deskmend.report").joinpath(name).read_text(encoding="utf-8")
    signs = [f"{sign.id}: {tr(sign.sign)}" for sign in catalog.signs]
    items = [
        tr("{item}: {title} (counted by {unit})", item=item.id, title=tr(item.title), unit=tr(item.unit))
        for item in catalog.items.values()
    ]
    for mark, entries in (("## {signs}\n", signs), ("## {items}\n", items)):
        template = template.replace(mark, "".join(_comments(entries)))
    return template


def _comments(entries: list[str]) -> Iterator[str]:
    for entry in entries:
        lines = textwrap.wrap(
            visible(entry, None), WIDTH, initial_indent="##   ", subsequent_indent="##     "
        )
        yield from (f"{line}\n" for line in lines)
