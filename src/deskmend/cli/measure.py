"""Ways in: ``deskmend new``, ``deskmend open`` and ``deskmend measure``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.output import (
    FORCE,
    Shared,
    emit,
    emit_document,
    emit_page,
    refuse_existing,
    refuse_target,
    refuse_unless_new,
    shared,
    tell,
    write_new,
)
from deskmend.errors import Fault, InputFaults, option_fault, visible
from deskmend.language import current_language, current_unit, tr

if TYPE_CHECKING:
    from deskmend.report.other_documents import OpenedDocument


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
@FORCE
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
        from deskmend.intake.applicants import load_column_map, row_as_case

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


@click.command("open", short_help="Open a page on this machine to see and change cases.")
@click.argument("folder", metavar="[FOLDER]", default=".")
@click.option(
    "--port", metavar="N", type=click.IntRange(1, 65535), help="Port to serve at; a free one if left out."
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser; say which file opens the page.")
@click.option(
    "--host",
    metavar="HOST",
    default="127.0.0.1",
    show_default=True,
    help="Address to serve at. Any but this machine's own lets others in the network reach the page.",
)
@shared(
    "catalog",
    prices="Price table for every case; if left out, prices.csv beside the case, else an invented sample.",
)
def open_command(given: Shared, folder: str, port: int | None, no_browser: bool, host: str) -> int:
    """Open the local page: cases of a folder, what strains, plans for every budget, and what to hand over.

    FOLDER holds the cases; this folder if left out. The page is served from this machine to this machine
    alone, and written is only into FOLDER. It runs until you press Ctrl-C.
    """
    from deskmend.local_page.engine import Manner
    from deskmend.local_page.handling import is_loopback
    from deskmend.local_page.routes import serve

    path = Path(folder)
    try:
        there = path.is_dir()
    except (OSError, ValueError):
        there = False
    if not there:
        raise InputFaults([Fault("command line", None, "FOLDER", folder, "a folder that is there")])
    if not is_loopback(host):
        warning = tr(
            "--host {host}: others in your network can reach this page; what it sends is not encrypted",
            host=visible(host),
        )
        given.remark([warning])
    given.catalog()

    def told(address: str, file: Path) -> None:
        if given.as_json:
            document: OpenedDocument = {
                "format": "deskmend-opened/1",
                "address": address,
                "file": str(file),
            }
            emit_document(document)
            return
        emit(tr("The page is open at {address}", address=address) + "\n")
        emit(tr("To open it in a browser, open this file: {file}", file=str(file)) + "\n")
        if not given.quiet:
            emit(tr("Ctrl-C ends it.") + "\n")

    try:
        serve(
            path,
            host,
            port,
            not no_browser,
            given.catalog_folder,
            given.price_file,
            Manner(current_language(), current_unit()),
            told,
        )
    except KeyboardInterrupt:
        tell(tr("The page is closed."))
    return output.DONE


MOST_PICTURES = 8
"""Most pictures of one scene."""


@click.command("measure", short_help="Measure a workplace from pictures and their marks.")
@click.argument("pictures", metavar="PICTURE...", nargs=-1, required=True)
@click.option(
    "--marks",
    "marks_files",
    metavar="FILE.yaml",
    required=True,
    multiple=True,
    help="Where sheet and points lie in it. Once for each picture, in the same order.",
)
@click.option(
    "--case",
    "case_file",
    metavar="CASE",
    help="Case file to put the measures into, and to hold the posture against.",
)
@click.option("--out", metavar="CASE2", help="Where the case with them goes: a new file.")
@click.option("--place", metavar="ID", help="Place of the case that the picture shows.")
@click.option(
    "--confirmed", is_flag=True, help="You have looked at the drawing, and every mark is where it belongs."
)
@click.option(
    "--drawn", metavar="FILE.png", help="Draw the marks and the sheet there, on a blank ground; replaced."
)
@click.option("--keep", is_flag=True, help="Draw on the picture itself, the head blurred.")
@click.option("--face", is_flag=True, help="With --keep, do not blur the head.")
@shared("catalog", "learned", "prices", "today")
def measure_command(
    given: Shared,
    pictures: tuple[str, ...],
    marks_files: tuple[str, ...],
    case_file: str | None,
    out: str | None,
    place: str | None,
    confirmed: bool,
    drawn: str | None,
    keep: bool,
    face: bool,
) -> None:
    """Measure seat, desk, screen, eye, elbow and posture from pictures taken from the person's side.

    PICTURE is a JPEG, PNG or HEIF of the whole person at the desk, with an upright sheet of paper or a bank
    card at the near hip. Several are pictures of one scene, in which nobody and nothing has moved: from the
    same side, with the same sheet. Every measure comes with the interval that holds it in 95 of 100 cases.
    What seems wrong with the marks is told first. With a case the posture is held against what seat and desk
    ask for, and what to tape is ordered by what it could change in the plan. A case is never written over,
    and in the new one a taped value stays. Nothing of the picture is kept unless you say --keep, and never
    what its file says of place, time or camera.
    """
    from dataclasses import replace

    from deskmend.picture.measuring import drawing
    from deskmend.planning.observed import measure_workplace, plan_tape
    from deskmend.report.measuring import doubt_words, measured_document, measured_text

    _refuse_unfit(pictures, marks_files, case_file, out, drawn, place, keep, face)
    files = list(zip(pictures, marks_files, strict=True))
    found = measure_workplace(files, case_file, place, confirmed)
    told, merged = found.told, found.merged
    if merged is not None:
        if told.doubts and not confirmed:
            hint = "mend the marks, or say --confirmed"
            notes = [doubt_words(one).rstrip(".") for one in told.doubts]
            allowed = "marks without doubt"
            raise InputFaults([option_fault("--marks", None, allowed, hint, note) for note in notes])
        case, catalog, prices, warnings = given.inputs_for(merged.case)
        given.remark(warnings)
        with given.waiting("planning"):
            found = replace(found, plan_tape=plan_tape(case, catalog, prices))
    if drawn is not None:
        write_new(Path(drawn), drawing(told, keep, face), force=True)
    if merged is not None and out is not None:
        write_new(Path(out), merged.text, force=False)
    given.answer(lambda: measured_document(found), lambda: emit_page(measured_text, found))


def _refuse_unfit(
    pictures: tuple[str, ...],
    marks_files: tuple[str, ...],
    case_file: str | None,
    out: str | None,
    drawn: str | None,
    place: str | None,
    keep: bool,
    face: bool,
) -> None:
    """Refuse options that say nothing together, and files that could not be written."""
    faults = []
    if len(pictures) != len(marks_files):
        allowed = f"--marks once for each picture, {len(pictures)} times"
        faults.append(option_fault("--marks", str(len(marks_files)), allowed))
    if len(pictures) > MOST_PICTURES:
        faults.append(option_fault("PICTURE", str(len(pictures)), f"at most {MOST_PICTURES} pictures"))
    if out is not None and case_file is None:
        faults.append(option_fault("--out", out, "--out with --case"))
    if place is not None and case_file is None:
        faults.append(option_fault("--place", place, "--place with --case"))
    if keep and drawn is None:
        faults.append(option_fault("--keep", None, "--keep with --drawn", note="says nothing alone"))
    if face and not keep:
        faults.append(option_fault("--face", None, "--face with --keep", note="says nothing alone"))
    if faults:
        raise InputFaults(faults)
    if out is not None:
        refuse_unless_new(Path(out))
    if drawn is not None:
        refuse_target(Path(drawn))
