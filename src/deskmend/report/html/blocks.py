"""Text as blocks of a web page: the same calls as a page of plain text, everything escaped.

Headings and short lines of the page, in the reader's language.
"""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup, escape

from deskmend.errors import visible
from deskmend.language import tr
from deskmend.report.layout import Page

__all__ = ["Blocks", "page_words", "shown"]


def page_words() -> dict[str, str]:
    """Words of the page by the name its template knows them by."""
    return {
        "worker": tr("Your plan"),
        "skip": tr("Go to the plan"),
        "contents": tr("On this page"),
        "signs": tr("FIRST: see a licensed clinician"),
        "money": tr("Money to spend"),
        "money_help": tr(
            "Move the slider, or use the arrow keys. The list, the drawing and the bars follow."
        ),
        "today": tr("Today, for nothing"),
        "buy": tr("Then buy"),
        "make": tr("Then make and set up"),
        "later": tr("Later"),
        "only_if": tr("Only if it happens"),
        "nothing_today": tr("Nothing can be done without buying first."),
        "nothing_to_buy": tr("Nothing to buy."),
        "nothing_to_make": tr("Nothing to make."),
        "nothing_if": tr("Nothing to keep in mind."),
        "all_together": tr("All together:"),
        "how": tr("How"),
        "look_again": tr("Look again after two weeks. Each step below says at what."),
        "dated": tr("What to buy when, as you save"),
        "strain": tr("Where the strain is"),
        "strain_help": tr(
            "Strain counts hours a day. One hour counts once for each part of the body that is out of its "
            "good range. Parts that trouble you count for more. It does not measure pain."
        ),
        "strain_key": tr("White bar: now. Black bar: with this plan."),
        "part": tr("part of the body"),
        "now": tr("now"),
        "then": tr("with this plan"),
        "shared": tr("Shared seat"),
        "drawing": tr("The place, drawn to scale"),
        "drawing_key": tr(
            "Thin grey lines: now. Strong lines: with this plan. A broken ring marks a part that is still "
            "out of its good range. A plain ring marks one that was out and no longer is."
        ),
        "above_key": tr(
            "From above. The grey area is what the hands reach in comfort, {far} round each shoulder. The "
            "broken line is as far as they reach at all."
        ),
        "drawn_only": tr(
            "Heights and angles are the ones reckoned with. How far things stand from each other is drawn so "
            "that none stands in another."
        ),
        "measure": tr("what"),
        "no_letter": tr("not in the drawing"),
        "worth": tr("What is it worth?"),
        "budgets": tr("All budgets in one table"),
        "from": tr("from"),
        "left": tr("strain left"),
        "taken": tr("taken off"),
        "work": tr("work"),
        "comes": tr("new:"),
        "goes": tr("no longer:"),
        "anew": tr("set anew:"),
        "nothing_done": tr("as it is now"),
        "steps": tr("How to do each step"),
        "why": tr("Why:"),
        "back": tr("Back to the list"),
        "recheck": tr("After two weeks:"),
        "leave": tr("For the employer or landlord"),
        "leave_asks": tr("What needs leave, or changes something"),
        "leave_buy": tr("What is bought"),
        "leave_more": tr("With leave, these could be looked at as well"),
        "leave_claim": tr(
            "This counts exposure: time outside comfortable limits. It does not claim that pain or injury is "
            "prevented."
        ),
        "assessor": tr("For the assessor"),
        "assessor_for": tr("These figures are for the plan at {money}; the slider does not change them."),
        "notes": tr("Further remarks"),
        "outside": tr("Outside their range, now or then"),
        "others": tr("All other measures"),
        "range": tr("range that scores nothing"),
        "source": tr("source"),
        "estimated": tr(
            "~ rests on an estimate or an assumption, not on a measurement. ! lies outside its range."
        ),
        "sources": tr("Where the ranges come from"),
        "no_script": tr("Without script the page shows one plan. The table of all budgets has the others."),
    }


KEPT = frozenset("\u200c\u200d\u00a0\u202f\u3000")
"""Joiners and spaces that belong to the spelling of words and numbers; a browser can do no harm with them."""


def shown(text: str) -> str:
    """Text with everything written out that would be invisible or steer the direction of writing.

    Parameters
    ----------
    text : str
        Any text, trusted or not. It still has to be escaped for the page.
    """
    return "".join(c if c in KEPT or c.isprintable() else visible(c, None) for c in text)


class Blocks(Page):
    """A part of a web page that grows block by block.

    Parameters
    ----------
    level : int
        Level of its headings, 2 to 6.
    headed : bool
        Whether headings are shown; not where the page has one of its own above.
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
                Markup('<th scope="col">{}</th>').format(shown(cell)) if cell else Markup("<td></td>")
                for cell in rows[0]
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
