"""``deskmend assess``."""

from __future__ import annotations

from datetime import date

import click

from deskmend.cli.options import (
    catalog_option,
    json_option,
    prices_option,
    quiet_option,
    reader_options,
    today_option,
)
from deskmend.cli.output import emit_document, emit_page, remark

__all__ = ["assess_command"]


@click.command("assess", short_help="Show the strain of a workplace, as it is or with fixes.")
@click.argument("case_file", metavar="CASE")
@click.option(
    "--with",
    "fixes",
    metavar="[PLACE.|TASK.]FIX[=VALUE]",
    multiple=True,
    help="Show what this fix would do. Give it several times to apply several fixes together.",
)
@catalog_option
@prices_option
@today_option
@json_option
@quiet_option
@reader_options
def assess_command(
    case_file: str,
    fixes: tuple[str, ...],
    catalog_folder: str | None,
    price_file: str | None,
    today: date | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Show where a workplace strains the body.

    CASE is a case file. Strain is shown by region of the body, then everything that lies outside its range,
    the worst first. With fixes, strain is shown before and after, with what they cost.
    """
    from deskmend.intake.case_file import load_case
    from deskmend.intake.catalog import load_catalog
    from deskmend.planning.assessment import assess
    from deskmend.planning.inputs import find_prices

    case = load_case(case_file)
    catalog = load_catalog(catalog_folder)
    prices = find_prices(case, catalog, price_file, today)
    assessment = assess(case, catalog, prices.table, fixes, prices.warnings)
    remark(assessment.warnings, quiet, shown=not as_json)
    if as_json:
        from deskmend.report.assessment import assessment_document

        emit_document(assessment_document(assessment))
    else:
        from deskmend.report.assessment import assessment_text

        emit_page(assessment_text, assessment, catalog)
