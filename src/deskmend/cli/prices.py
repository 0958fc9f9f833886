"""``deskmend prices``."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from deskmend.cli.options import asked_on_option, catalog_option, json_option, quiet_option, reader_options
from deskmend.cli.output import emit, emit_document
from deskmend.language import trn

__all__ = ["prices_command"]


@click.group("prices", short_help="Write a price table to fill in for a case.")
def prices_command() -> None:
    """Write price tables to fill in.

    Ask only for what could matter: deskmend prices new --for case.yaml --out prices.csv
    """


@prices_command.command("new", short_help="Write a table of exactly the items that could matter.")
@click.option("--for", "case_file", metavar="CASE", required=True, help="Case file to ask for.")
@click.option("--out", metavar="FILE", help="Where it goes; a file that is there already is kept.")
@asked_on_option
@catalog_option
@json_option
@quiet_option
@reader_options
def new_prices_command(
    case_file: str,
    out: str | None,
    today: date | None,
    catalog_folder: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Write a price table with the items that some fix for this case takes, and no prices.

    Items that decide most come first; what the person owns enough of is left out. Pack sizes are suggestions.
    """
    from deskmend.cli.files import write_new
    from deskmend.errors import InputFaults, visible
    from deskmend.intake.case_file import load_case
    from deskmend.intake.catalog import load_catalog
    from deskmend.planning.inputs import fitting_faults
    from deskmend.planning.price_questions import price_questions
    from deskmend.report.forms.blank import price_form, price_form_document

    case = load_case(case_file)
    catalog = load_catalog(catalog_folder)
    faults = fitting_faults(case, catalog)
    if faults:
        raise InputFaults(faults)
    questions = price_questions(case, catalog)
    text = price_form(case, catalog, questions, today)
    if out is not None:
        write_new(Path(out), text, force=False)
    if as_json:
        emit_document(price_form_document(case, catalog, questions))
    elif out is None:
        emit(text)
    elif not quiet:
        shown = visible(out, None)
        told = trn(
            "{file} is written: {count} price to ask. Then run: deskmend check {file}",
            "{file} is written: {count} prices to ask. Then run: deskmend check {file}",
            len(questions),
            file=shown,
        )
        emit(f"{told}\n")
