"""``deskmend new``."""

from __future__ import annotations

import os
from pathlib import Path

import click

from deskmend.cli.options import catalog_option, json_option, quiet_option, reader_options
from deskmend.cli.output import emit, emit_document
from deskmend.errors import Fault, InputFaults, visible
from deskmend.messages import tr

__all__ = ["new_command", "refuse_existing", "refuse_target", "write_new"]


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
@click.option("--force", is_flag=True, help="Write over a file that is there already.")
@catalog_option
@json_option
@quiet_option
@reader_options
def new_command(
    file: str,
    blank: bool,
    table: str | None,
    force: bool,
    catalog_folder: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Ask for the measures that matter, and write a case file with remarks.

    FILE is where it goes: case.yaml if left out. A file that is there already is kept, unless you say
    --force. Twelve short parts, each with how to measure it, also without a tape; what can be estimated may
    be left out. Ctrl-C stops and keeps the answers in FILE.answers; the same command goes on from there.
    With --blank nothing is asked: fill the file in, then run deskmend check FILE.
    """
    from deskmend.intake.catalog import load_catalog

    file = file if table is None else table
    path, shown = Path(file), visible(file, None)
    catalog = load_catalog(catalog_folder)
    if table is not None:
        from deskmend.report.blank_applicants import blank_applicants

        if path.suffix.lower() != ".csv":
            raise click.BadParameter("allowed a name that ends in .csv", param_hint="--applicants")
        write_new(path, blank_applicants(catalog), force)
        told = tr("{file} is written. Fill it in, then run: deskmend check {file}", file=shown)
    elif blank:
        from deskmend.report.blank_case import blank_case

        write_new(path, blank_case(catalog), force)
        told = tr("{file} is written. Fill it in, then run: deskmend check {file}", file=shown)
    else:
        from deskmend.cli.interview import forget_answers, interview

        refuse_existing(path, force)
        write_new(path, interview(path, catalog, to_stderr=as_json), force)
        forget_answers(path)
        told = tr("{file} is written. Have a look at it, then run: deskmend plan {file}", file=shown)
    if as_json:
        emit_document({"format": "deskmend-written/1", "file": file})
    elif not quiet:
        emit(f"{told}\n")


def _refused(path: Path, allowed: str, note: str) -> InputFaults:
    return InputFaults([Fault(str(path), None, "", None, allowed, note=note)])


def refuse_existing(path: Path, force: bool) -> None:
    """Refuse a folder, and a file that is there already.

    Parameters
    ----------
    path : Path
        Where a file is to go.
    force : bool
        Write over a file that is there.

    Raises
    ------
    deskmend.errors.InputFaults
        It may not be written.
    """
    if path.is_dir():
        raise _refused(path, "a file", "is a folder")
    if not force and os.path.lexists(path):
        raise _refused(path, "a new file, or --force to write over it", "is there already")


def refuse_target(path: Path) -> None:
    """Refuse before a long search what could not be written after it.

    Parameters
    ----------
    path : Path
        Where a file is to go; one of that name is replaced.

    Raises
    ------
    deskmend.errors.InputFaults
        It is a folder, or the folder around it is not there.
    """
    refuse_existing(path, force=True)
    if not path.parent.is_dir():
        raise _refused(path, "a file in a folder that is there", "cannot be written: there is no such folder")


def write_new(path: Path, content: str | bytes, force: bool) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : Path
        Where it goes.
    content : str or bytes
        Text is written in UTF-8 with plain line ends.
    force : bool
        Write over a file that is there.

    Raises
    ------
    deskmend.errors.InputFaults
        The file is there already, or cannot be written.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.part") if path.name else path
    try:
        refuse_existing(path, force)
        with open(beside, "xb") as stream:
            stream.write(content.encode("utf-8") if isinstance(content, str) else content)
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise _refused(
            path, "a file in a folder that may be written to", f"cannot be written: {reason}"
        ) from None
    finally:
        _remove(beside)


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except (OSError, ValueError):
        return
