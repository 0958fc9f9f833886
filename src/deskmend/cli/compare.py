"""``deskmend compare``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.files import refuse_other_than_page, refuse_target, write_new
from deskmend.cli.options import FIX, Shared, amount_list, shared
from deskmend.cli.output import emit_page
from deskmend.errors import InputFaults, option_fault
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.planning.budgets import Comparison


@click.command("compare", short_help="Show the best plan at every budget, and what changes.")
@click.argument("case_file", metavar="CASE")
@click.option("--at", metavar="A,B,C", help="Only these budgets, side by side, as 0,20,50.")
@click.option(
    "--plot",
    metavar="FILE.svg|png",
    help="Draw strain left over money spent; a file of that name is replaced.",
)
@click.option(
    "--every-gain",
    is_flag=True,
    help="The best plan of all at every budget, also where it cannot be told from the one before.",
)
@click.option("--beside", "other_file", metavar="CASE2", help="Set another case beside this one instead.")
@click.option(
    "--with", "fixes", metavar=FIX, multiple=True, help="With --beside: a fix done in CASE. Repeatable."
)
@click.option(
    "--beside-with",
    "others",
    metavar=FIX,
    multiple=True,
    help="With --beside: one done in CASE2. Repeatable.",
)
@click.option(
    "--out",
    metavar="FILE.html",
    help="With --beside: write both with their drawings as a page too; a file of that name is replaced.",
)
@shared("catalog", "learned", "prices", "today")
def compare_command(
    given: Shared,
    case_file: str,
    at: str | None,
    every_gain: bool,
    plot: str | None,
    other_file: str | None,
    fixes: tuple[str, ...],
    others: tuple[str, ...],
    out: str | None,
) -> int:
    """Show what each budget buys, or two workplaces side by side.

    CASE is a case file. Without --at, every budget is found at which the plan changes, from the least up,
    with what comes in and what is dropped: plans that can be told apart, whatever measures and estimates may
    be off. The budget and saving of the case are not looked at, its limit of minutes and its wishes are. With
    --beside nothing is planned: two cases, or one twice with other fixes, are assessed and set side by side
    in strain, scores, measures and drawings. Exit code 1: what must be in the plan cannot be had.
    """
    if other_file is not None:
        if at is not None or plot is not None or every_gain:
            raise click.BadOptionUsage("--beside", "--beside goes with neither --at, --plot nor --every-gain")
        return _beside(given, (case_file, other_file), (fixes, others), out)
    if fixes or others or out is not None:
        raise click.BadOptionUsage("--with", "--with, --beside-with and --out take --beside CASE2")
    from deskmend.planning.budgets import compared
    from deskmend.planning.prepared import prepare
    from deskmend.report.budgets import comparison_document, comparison_text

    if plot is not None and not plot.lower().endswith((".svg", ".png")):
        raise InputFaults([option_fault("--plot", plot, "a name that ends in .svg or .png")])
    if plot is not None:
        refuse_target(Path(plot))
    case, catalog, prices, notes = given.inputs(case_file)
    budgets = amount_list("--at", at, prices.currency)
    with given.waiting(tr("looking for every budget")):
        found = compared(prepare(case, catalog, prices), budgets, notes, every_gain)
    if plot is not None:
        _draw(Path(plot), found)
    given.remark(found.warnings, on_page=True)
    given.answer(lambda: comparison_document(found), lambda: emit_page(comparison_text, found, catalog))
    return output.DONE if found.proven else output.NOT_PROVEN


def _draw(path: Path, found: Comparison) -> None:
    from deskmend.report.drawing.plot import plot_of, plot_png, plot_svg

    curve = plot_of(found)
    write_new(path, plot_svg(curve) if path.suffix.lower() == ".svg" else plot_png(curve), force=True)


def _beside(
    given: Shared,
    files: tuple[str, str],
    fixes: tuple[Sequence[str], Sequence[str]],
    out: str | None,
) -> int:
    """Two workplaces side by side."""
    from deskmend.planning.assessment import assess
    from deskmend.planning.beside import beside
    from deskmend.report.beside import beside_document, beside_text

    if out is not None:
        refuse_other_than_page(out)
    found = []
    for file, asked in zip(files, fixes, strict=True):
        case, catalog, prices, notes = given.inputs(file)
        found.append(assess(case, catalog, prices, asked, notes))
    pair = beside(*found)
    if out is not None:
        from deskmend.report.html.beside import beside_html

        write_new(Path(out), beside_html(pair), force=True)
    given.remark(dict.fromkeys([*found[0].warnings, *found[1].warnings]), on_page=False)
    given.answer(lambda: beside_document(pair), lambda: emit_page(beside_text, pair))
    return output.DONE
