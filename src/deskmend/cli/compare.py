"""``deskmend compare``."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.files import refuse_target, write_new
from deskmend.cli.options import (
    amount_list,
    catalog_option,
    json_option,
    prices_option,
    quiet_option,
    reader_options,
    today_option,
)
from deskmend.cli.output import emit_document, emit_page, remark, waiting
from deskmend.errors import Fault, InputFaults
from deskmend.language import tr

if TYPE_CHECKING:
    from deskmend.planning.budgets import Comparison

__all__ = ["compare_command"]


@click.command("compare", short_help="Show the best plan at every budget, and what changes.")
@click.argument("case_file", metavar="CASE")
@click.option("--at", metavar="A,B,C", help="Only these budgets, side by side, as 0,20,50.")
@click.option(
    "--plot",
    metavar="FILE.svg|png",
    help="Draw strain left over money spent; a file of that name is replaced.",
)
@catalog_option
@prices_option
@today_option
@json_option
@quiet_option
@reader_options
def compare_command(
    case_file: str,
    at: str | None,
    plot: str | None,
    catalog_folder: str | None,
    price_file: str | None,
    today: date | None,
    as_json: bool,
    quiet: bool,
) -> int:
    """Show what each budget buys.

    CASE is a case file. Without --at, every budget is found at which the best plan changes, from the least
    up, with what comes in and what is dropped. The budget and saving of the case are not looked at, its limit
    of minutes and its wishes are. Exit code 1: what must be in the plan cannot be had.
    """
    from deskmend.intake.case_file import load_case
    from deskmend.intake.catalog import load_catalog
    from deskmend.planning.budgets import compared
    from deskmend.planning.inputs import find_prices
    from deskmend.planning.prepared import prepare

    if plot is not None and not plot.lower().endswith((".svg", ".png")):
        raise InputFaults([Fault("command line", None, "--plot", plot, "a name that ends in .svg or .png")])
    if plot is not None:
        refuse_target(Path(plot))
    case = load_case(case_file)
    catalog = load_catalog(catalog_folder)
    prices = find_prices(case, catalog, price_file, today)
    budgets = None if at is None else amount_list("--at", at, prices.table.currency)
    with waiting(tr("looking for every budget"), quiet):
        found = compared(prepare(case, catalog, prices.table), budgets, prices.warnings)
    if plot is not None:
        _draw(Path(plot), found)
    remark(found.warnings, quiet, shown=not as_json)
    if as_json:
        from deskmend.report.budgets import comparison_document

        emit_document(comparison_document(found))
    else:
        from deskmend.report.budgets import comparison_text

        emit_page(comparison_text, found, catalog)
    return output.DONE if found.proven else output.NOT_PROVEN


def _draw(path: Path, found: Comparison) -> None:
    from deskmend.report.drawing.plot import plot_of

    curve = plot_of(found)
    if path.suffix.lower() == ".svg":
        from deskmend.report.drawing.plot import plot_svg

        write_new(path, plot_svg(curve), force=True)
        return
    from deskmend.report.drawing.plot import plot_png

    write_new(path, plot_png(curve), force=True)
