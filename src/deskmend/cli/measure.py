"""``deskmend measure``."""

from __future__ import annotations

from pathlib import Path

import click

from deskmend.cli.files import refuse_existing, refuse_target, write_new
from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit_page
from deskmend.errors import InputFaults, option_fault

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

    from deskmend.picture.drawn_back import drawing
    from deskmend.planning.pictured import measure_workplace, plan_tape
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
        refuse_existing(Path(out), force=False)
    if drawn is not None:
        refuse_target(Path(drawn))
