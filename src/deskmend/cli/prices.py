"""``deskmend prices``."""

from __future__ import annotations

from pathlib import Path

import click

from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit
from deskmend.language import trn


@click.group("prices", short_help="Write a price table to fill in for a case.")
def prices_command() -> None:
    """Write price tables to fill in.

    Ask only for what could matter: deskmend prices new --for case.yaml --out prices.csv
    """


@prices_command.command("new", short_help="Write a table of exactly the items that could matter.")
@click.option("--for", "case_file", metavar="CASE", required=True, help="Case file to ask for.")
@click.option("--out", metavar="FILE", help="Where it goes; a file that is there already is kept.")
@shared("catalog", today="Day written into every row as the day of its price; left to you if left out.")
def new_prices_command(
    given: Shared,
    case_file: str,
    out: str | None,
) -> None:
    """Write a price table with the items that some fix for this case takes, and no prices.

    Items that decide most come first; what the person owns enough of is left out. Pack sizes are suggestions.
    """
    from deskmend.cli.files import write_new
    from deskmend.errors import InputFaults, visible
    from deskmend.intake.case_file import load_case
    from deskmend.planning.inputs import fitting_faults
    from deskmend.planning.price_questions import price_questions
    from deskmend.report.forms.blank import price_form, price_form_document

    case = load_case(case_file)
    catalog = given.catalog()
    faults = fitting_faults(case, catalog)
    if faults:
        raise InputFaults(faults)
    questions = price_questions(case, catalog)
    text = price_form(case, catalog, questions, given.today)
    if out is not None:
        write_new(Path(out), text, force=False)

    def page() -> None:
        if out is None:
            emit(text)
        elif not given.quiet:
            told = trn(
                "{file} is written: {count} price to ask. Then run: deskmend check {file}",
                "{file} is written: {count} prices to ask. Then run: deskmend check {file}",
                len(questions),
                file=visible(out, None),
            )
            emit(f"{told}\n")

    given.answer(lambda: price_form_document(case, catalog, questions), page)
