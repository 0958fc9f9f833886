"""``deskmend new``."""

from __future__ import annotations

from pathlib import Path

import click

from deskmend.cli.files import refuse_existing, write_new
from deskmend.cli.options import Shared, shared
from deskmend.errors import visible
from deskmend.language import tr


@click.command("new", short_help="Ask for the measures that matter, and write a case file.")
@click.argument("file", metavar="[FILE]", default="case.yaml")
@click.option(
    "--blank", is_flag=True, help="Write an empty file with every key, its unit and how to measure it."
)
@click.option(
    "--applicants",
    "table",
    metavar="FILE",
    help="Write an empty table of applicants there instead, with notes on every column.",
)
@click.option(
    "--form",
    metavar="FILE.html",
    help="Write the questions there as one page that travels: for a telephone, without a network.",
)
@click.option("--row", metavar="ID", help="Write the row of an applicant as a case of its own; with --of.")
@click.option("--of", "rows_of", metavar="TABLE", help="Table of applicants from which --row is taken.")
@click.option(
    "--columns", metavar="FILE", help="Our names for the columns of that table, as allocate takes them."
)
@click.option("--force", is_flag=True, help="Write over a file that is there already.")
@shared("catalog")
def new_command(
    given: Shared,
    file: str,
    blank: bool,
    table: str | None,
    form: str | None,
    row: str | None,
    rows_of: str | None,
    columns: str | None,
    force: bool,
) -> None:
    """Ask for the measures that matter, and write a case file with remarks.

    FILE is where it goes: case.yaml if left out. A file that is there already is kept, unless you say
    --force. Eight questions, each with how to measure it, also without a tape, are enough for a first plan;
    further ones make it surer, and may be left out. Ctrl-C stops and keeps the answers in FILE.answers; the
    same command goes on from there. With --blank nothing is asked: fill the file in, then run deskmend check
    FILE. With --form the same questions go into one HTML file for somebody else's telephone; it hands over a
    case. With --row ID --of TABLE one row of a table of applicants becomes a case, to be looked at alone:
    deskmend assess FILE --with FIX tells what a fix would do there, and what stands against it.
    """
    file = table or form or file
    if sum(map(bool, (blank, table, form, row))) > 1:
        raise click.UsageError(
            "--blank, --applicants, --form and --row do not go together: each writes its own file"
        )
    if (row is None) != (rows_of is None) or (columns is not None and row is None):
        raise click.UsageError("--row ID and --of TABLE go together, and --columns with both")
    path, shown = Path(file), visible(file, None)
    catalog = given.catalog()
    if table is not None:
        from deskmend.report.forms.blank import blank_applicants

        if path.suffix.lower() != ".csv":
            raise click.BadParameter("allowed a name that ends in .csv", param_hint="--applicants")
        write_new(path, blank_applicants(catalog), force)
        told = tr("{file} is written. Fill it in, then run: deskmend check {file}", file=shown)
    elif form is not None:
        from deskmend.report.forms.travelling import form_html

        if path.suffix.lower() not in (".html", ".htm"):
            raise click.BadParameter("allowed a name that ends in .html", param_hint="--form")
        write_new(path, form_html(catalog), force)
        told = tr("{file} is written. Send it; it opens in a browser, and hands over a case.", file=shown)
    elif row is not None and rows_of is not None:
        from deskmend.intake.applicants import row_as_case
        from deskmend.intake.column_map import load_column_map

        renamed = None if columns is None else load_column_map(columns)
        write_new(path, row_as_case(rows_of, row, catalog, renamed), force)
        told = tr("{file} is written. Have a look at it, then run: deskmend assess {file}", file=shown)
    elif blank:
        from deskmend.report.forms.blank import blank_case

        write_new(path, blank_case(catalog), force)
        told = tr("{file} is written. Fill it in, then run: deskmend check {file}", file=shown)
    else:
        from deskmend.cli.interview import forget_answers, interview

        refuse_existing(path, force)
        write_new(path, interview(path, catalog, to_stderr=given.as_json), force)
        forget_answers(path)
        told = tr("{file} is written. Have a look at it, then run: deskmend plan {file}", file=shown)
    given.written(file, told)
