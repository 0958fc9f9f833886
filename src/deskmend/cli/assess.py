"""``deskmend assess``."""

from __future__ import annotations

import click

from deskmend.cli.options import FIX, Shared, shared
from deskmend.cli.output import emit_page


@click.command("assess", short_help="Show the strain of a workplace, as it is or with fixes.")
@click.argument("case_file", metavar="CASE")
@click.option(
    "--with",
    "fixes",
    metavar=FIX,
    multiple=True,
    help="Show what this fix would do. Give it several times to apply several fixes together.",
)
@click.option(
    "--exposures",
    is_flag=True,
    help="Also list every exposure with its hours, severity and weight, adding up to the strain.",
)
@shared("catalog", "learned", "prices", "today")
def assess_command(
    given: Shared,
    case_file: str,
    fixes: tuple[str, ...],
    exposures: bool,
) -> None:
    """Show where a workplace strains the body.

    CASE is a case file. Strain is shown by region of the body, then everything that lies outside its range,
    the worst first. With fixes, strain is shown before and after, with what they cost.
    """
    from deskmend.planning.assessment import assess
    from deskmend.report.assessment import assessment_document, assessment_text

    case, catalog, prices, notes = given.inputs(case_file)
    assessment = assess(case, catalog, prices, fixes, notes)
    given.remark(assessment.warnings, on_page=True)
    given.answer(
        lambda: assessment_document(assessment),
        lambda: emit_page(assessment_text, assessment, catalog, exposures),
    )
