"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from deskmend.messages import LANGUAGES, read_in
from deskmend.numerals import LENGTH_UNITS, measure_in

__all__ = ["catalog_option", "json_option", "prices_option", "quiet_option", "reader_options"]

Command = TypeVar("Command", bound=Callable[..., Any])


def catalog_option(command: Command) -> Command:
    """Add ``--catalog``."""
    text = "Folder with the fixes to choose from; the one that comes with deskmend if left out."
    return click.option("--catalog", "catalog_folder", metavar="DIR", help=text)(command)


def prices_option(command: Command) -> Command:
    """Add ``--prices``."""
    text = "Price table; if left out, prices.csv beside the case, else an invented sample with a warning."
    return click.option("--prices", "price_file", metavar="FILE", help=text)(command)


def json_option(command: Command) -> Command:
    """Add ``--json``."""
    text = "Write one JSON document to standard output and nothing else there."
    return click.option("--json", "as_json", is_flag=True, help=text)(command)


def quiet_option(command: Command) -> Command:
    """Add ``--quiet``."""
    return click.option(
        "--quiet", is_flag=True, help="Say only what was asked for: no warnings, no remarks."
    )(command)


def reader_options(command: Command) -> Command:
    """Add ``--language`` and ``--units``: how the reader wants it; nothing is taken from the machine."""
    language = click.option(
        "--language",
        type=click.Choice(LANGUAGES),
        expose_value=False,
        callback=_call_with(read_in),
        help="Language of what is told: en or es; English if left out.",
    )
    units = click.option(
        "--units",
        type=click.Choice(LENGTH_UNITS),
        expose_value=False,
        callback=_call_with(measure_in),
        help="Lengths in sentences: mm, or in (inches, one decimal). Figures in documents stay in mm.",
    )
    return language(units(command))


def _call_with(choose: Callable[[str], None]) -> Callable[[click.Context, click.Parameter, str | None], None]:
    """Callback that makes a reader's choice where there is one; it holds to the end of the program's run."""

    def chosen(context: click.Context, parameter: click.Parameter, value: str | None) -> None:
        del context, parameter
        if value is not None:
            choose(value)

    return chosen
