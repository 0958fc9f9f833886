"""Two workplaces side by side as a page: drawings at one scale, then strain, scores, measures, ranges."""

from __future__ import annotations

from markupsafe import Markup

from deskmend.language import tr
from deskmend.planning.beside import Beside
from deskmend.report.beside import (
    add_beside_fit,
    called,
    measure_rows,
    quantity_rows,
    score_rows,
    strain_rows,
    summary_lines,
)
from deskmend.report.drawing.pairs import drawn_pairs
from deskmend.report.html.blocks import Blocks
from deskmend.report.html.page import page_in_our_style
from deskmend.report.words import case_name, strain_text

__all__ = ["beside_html"]


def beside_html(pair: Beside) -> str:
    """The page as a whole HTML document; it asks nothing of any network."""
    fit = Blocks()
    add_beside_fit(fit, pair)
    head = ["", *called(pair)]
    tables = (
        (tr("Strain by region"), head, strain_rows(pair)),
        (tr("Published scores"), head, score_rows(pair)),
        (tr("What differs"), head, measure_rows(pair)),
        (tr("Outside its range in either"), [*head, tr("range")], quantity_rows(pair, outside=True)),
        (tr("Within its range in both"), [*head, tr("range")], quantity_rows(pair, outside=False)),
    )
    parts = []
    for title, named, rows in tables:
        blocks = Blocks(2)
        blocks.heading(title)
        if rows:
            blocks.table([named, *rows], right=(1, 2), head=True)
        else:
            blocks.paragraph(tr("Nothing."))
        parts.append(blocks.html())
    sides = [
        {"name": name, "case": case_name(one.case), "strain": strain_text(one.strain.total)}
        for name, one in zip((tr("First"), tr("Second")), pair.both, strict=True)
    ]
    drawings = [
        {
            "task": next((name for name in drawn.task if name is not None), "")
            if len(pair.tasks) > 1
            else "",
            "mode": tr("Standing") if drawn.mode == "stand" else tr("Sitting"),
            "svg": [None if one is None else Markup(one) for one in drawn.svg],
        }
        for drawn in drawn_pairs(pair)
    ]
    return page_in_our_style(
        "beside.html",
        title=tr("Two workplaces side by side"),
        lines=summary_lines(pair),
        fit=fit.html(),
        sides=sides,
        drawings=drawings,
        tables=parts,
        strain=tr("strain"),
        not_here=tr("Not done so here."),
        outside=tr("! lies outside its range."),
    )
