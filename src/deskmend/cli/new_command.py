"""``deskmend new``."""

from __future__ import annotations

import os
from pathlib import Path

import click

from deskmend.cli.options import catalog_option, json_option, quiet_option, reader_options
from deskmend.cli.output import emit, emit_document

__all__ = ["new_command"]


@click.command("new", short_help="Write an empty case file to fill in.")
@click.argument("file", metavar="[FILE]", default="case.yaml")
@click.option(
    "--blank", is_flag=True, help="Write an empty file with every key, its unit and how to measure it."
)
@click.option("--force", is_flag=True, help="Write over a file that is there already.")
@catalog_option
@json_option
@quiet_option
@reader_options
def new_command(
    file: str, blank: bool, force: bool, catalog_folder: str | None, as_json: bool, quiet: bool
) -> None:
    """Write an empty case file.

    FILE is where it goes: case.yaml if left out. A file that is there already is kept, unless you say
    --force. Fill it in, then run: deskmend check FILE
    """
    from deskmend.intake.catalog import load_catalog
    from deskmend.report.blank_case import blank_case

    if not blank:
        raise click.UsageError(
            f"asking for the measures one by one is not built yet; run: deskmend new {file} --blank",
            ctx=click.get_current_context(),
        )
    write_new(Path(file), blank_case(load_catalog(catalog_folder)), force)
    if as_json:
        emit_document({"format": "deskmend-written/1", "file": file})
    elif not quiet:
        from deskmend.errors import visible

        shown = visible(file, None)
        emit(f"{shown} is written. Fill it in, then run: deskmend check {shown}\n")


def write_new(path: Path, text: str, force: bool) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : Path
        Where it goes.
    text : str
        Its content.
    force : bool
        Write over a file that is there.

    Raises
    ------
    deskmend.errors.InputFaults
        The file is there already, or cannot be written.
    """
    from deskmend.errors import Fault, InputFaults

    def refused(allowed: str, note: str) -> InputFaults:
        return InputFaults([Fault(str(path), None, "", None, allowed, note=note)])

    beside = path.with_name(f".{path.name}.{os.getpid()}.part") if path.name else path
    try:
        if path.is_dir():
            raise refused("a file", "is a folder")
        if not force and os.path.lexists(path):
            raise refused("a new file, or --force to write over it", "is there already")
        with open(beside, "x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise refused("a file in a folder that may be written to", f"cannot be written: {reason}") from None
    finally:
        _remove(beside)


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except (OSError, ValueError):
        return
