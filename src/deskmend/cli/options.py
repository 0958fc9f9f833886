"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

__all__ = ["catalog_option", "json_option", "prices_option", "quiet_option"]

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
