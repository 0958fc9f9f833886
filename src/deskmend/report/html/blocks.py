"""Text as blocks of a web page, everything escaped, and the policy of a page that is one file."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, ParamSpec

from markupsafe import Markup, escape

from deskmend.errors import visible
from deskmend.language import current_language, tr
from deskmend.report.layout import Block, Heading, Page, Rows, Wrapped, laid_out_by

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = [
    "Blocks",
    "content_policy",
    "drawing_key",
    "html_of",
    "page_environment",
    "shown",
    "template_text",
    "whole_page",
]

_Given = ParamSpec("_Given")

SPELLING = frozenset("\u200c\u200d\u00a0\u202f\u3000")
"""Joiners and spaces that belong to the spelling of words and numbers; a browser can do no harm with them."""


def shown(text: str) -> str:
    """Text with everything written out that would be invisible or steer the direction of writing.

    It still has to be escaped for the page.
    """
    return "".join(c if c in SPELLING or c.isprintable() else visible(c, None) for c in text)


class Blocks(Page):
    """A part of a web page that grows block by block, with headings of a level, 2 to 6.

    No headings are shown where the page has one of its own above (`headed`).
    """

    def __init__(self, level: int = 3, headed: bool = True) -> None:
        super().__init__()
        self._level = level
        self._headed = headed
        self._parts: list[Markup] = []
        self._points: list[Markup] = []

    def heading(self, text: str) -> None:
        """Start a section."""
        self._end_points()
        if not self._headed:
            return
        tag = f"h{self._level}"
        self._parts.append(Markup("<{0}>{1}</{0}>").format(Markup(tag), shown(text)))

    def blank(self) -> None:
        """End a list."""
        self._end_points()

    def paragraph(self, text: str, indent: int = 0) -> None:
        """Add a paragraph; an empty text adds nothing."""
        del indent
        if text:
            self._end_points()
            self._parts.append(Markup("<p>{}</p>").format(shown(text)))

    def point(self, mark: str, text: str, indent: int = 0) -> None:
        """Add a point of a list behind a mark, as ``-`` or ``3.``."""
        del indent
        if not text:
            return
        kind = {"-": "dash", "!": "mind", "[ ]": "tick", "": "plain"}.get(mark, "")
        sign = (
            Markup("<b>!</b> ")
            if kind == "mind"
            else Markup("")
            if kind
            else Markup("<b>{}</b> ").format(mark)
        )
        self._points.append(Markup('<li class="{}">{}{}</li>').format(kind or "own", sign, shown(text)))

    def table(
        self, rows: Sequence[Sequence[str]], right: Sequence[int] = (), indent: int = 2, head: bool = False
    ) -> None:
        """Add a table; with ``head`` its first row names the columns."""
        del indent
        if not rows:
            return
        self._end_points()
        body = rows[1:] if head else rows
        out = [Markup("<table>")]
        if head:
            cells = Markup("").join(
                Markup('<th scope="col" class="{}">{}</th>').format(
                    "figure" if number in right else "", shown(cell)
                )
                if cell
                else Markup("<td></td>")
                for number, cell in enumerate(rows[0])
            )
            out.append(Markup("<thead><tr>{}</tr></thead>").format(cells))
        out.append(Markup("<tbody>"))
        for first, *rest in body:
            cells = Markup("").join(
                Markup('<td class="{}">{}</td>').format("figure" if number in right else "", shown(cell))
                for number, cell in enumerate(rest, start=1)
            )
            out.append(Markup('<tr><th scope="row">{}</th>{}</tr>').format(shown(first), cells))
        out.append(Markup("</tbody></table>"))
        self._parts.append(Markup("").join(out))

    def _end_points(self) -> None:
        if self._points:
            self._parts.append(Markup("<ul>{}</ul>").format(Markup("").join(self._points)))
            self._points = []

    def html(self) -> Markup:
        """Everything so far."""
        self._end_points()
        return Markup("\n").join(escape(part) for part in self._parts)


def html_of(write: Callable[_Given, str], *given: _Given.args, **named: _Given.kwargs) -> Markup:
    """The text that a function gives for a terminal, as blocks of a web page in the same words."""
    with laid_out_by(_as_html):
        return Markup(write(*given, **named))


def _as_html(written: Sequence[Block]) -> str:
    page = Blocks()
    for block in written:
        if isinstance(block, Heading):
            page.heading(block.text)
        elif isinstance(block, Rows):
            page.table(block.rows, block.right, head=block.head)
        elif not isinstance(block, Wrapped):
            page.blank()
        elif block.first.strip():
            page.point(block.first.strip(), block.text)
        else:
            page.paragraph(block.text)
    return str(page.html())


def page_environment(*packages: str) -> Environment:
    """Templates of some packages, then of the report, in which what is no markup of ours is escaped."""
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    def finalize(value: Any) -> Any:
        return value if isinstance(value, Markup) or not isinstance(value, str) else shown(value)

    return Environment(
        loader=ChoiceLoader([PackageLoader(name) for name in (*packages, "deskmend.report")]),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finalize,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def content_policy(style: str, script: str, pictures: str = "data:", more: str = "") -> str:
    """Policy that lets in this style, this script and pictures that stand in the page, and no request.

    `pictures` says where else pictures may come from, `more` what else is let in or kept out.
    """
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src {pictures}; "
        f"{more}base-uri 'none'; form-action 'none'"
    )


@cache
def template_text(name: str) -> str:
    """Style, script or template of the pages, as it stands in its file."""
    return files("deskmend.report").joinpath("templates", name).read_text(encoding="utf-8")


def whole_page(template: str, style: str, script: str = "", **of: Any) -> str:
    """A template of the report filled in as a whole page of its own, with a style and perhaps a script."""
    return (
        page_environment()
        .get_template(template)
        .render(
            language=current_language(),
            policy=content_policy(style, script),
            style=Markup(style),
            script=Markup(script),
            **of,
        )
    )


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}"


def drawing_key() -> str:
    """What the strokes and points of a drawing mean."""
    return tr(
        "Hatched and bold: new. Bold alone: set otherwise. Broken: head and foot as they are now. Black "
        "point: a part still out of its good range. White ring: one that was out and no longer is."
    )
