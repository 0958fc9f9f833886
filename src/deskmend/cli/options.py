"""Options that several commands share.

Money given on the command line.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any, TypeVar

import click

from deskmend.errors import Fault, InputFaults, Unreadable
from deskmend.language import LANGUAGES, LENGTH_UNITS, measure_in, read_in

__all__ = [
    "amount_list",
    "amounts",
    "asked_on_option",
    "catalog_option",
    "json_option",
    "prices_option",
    "quiet_option",
    "reader_options",
    "today_option",
]

MOST_AMOUNTS = 100
"""Most amounts in one list."""


def amounts(given: dict[str, str | None], currency: str) -> dict[str, int | None]:
    """Read amounts of money.

    Parameters
    ----------
    given : dict of str to str or None
        Text by option, as ``{"--budget": "40.00"}``.
    currency : str
        Currency of the price table.

    Returns
    -------
    dict of str to int or None
        Minor units by option; None where nothing was given.

    Raises
    ------
    InputFaults
        Every one that is no amount.
    """
    from deskmend.measures import parse_amount

    out: dict[str, int | None] = {}
    faults = []
    for option, text in given.items():
        out[option] = None
        if text is None:
            continue
        try:
            out[option] = parse_amount(text, currency)
        except Unreadable as error:
            faults.append(Fault("command line", None, option, text, error.allowed, error.hint))
    if faults:
        raise InputFaults(faults)
    return out


def amount_list(option: str, text: str, currency: str) -> list[int]:
    """Read amounts of money that commas separate.

    Parameters
    ----------
    option : str
        Where the text comes from, as ``--at``.
    text : str
        As ``0,20,50.00``.
    currency : str
        Currency of the price table.

    Returns
    -------
    list of int
        Minor units, in the order given.

    Raises
    ------
    InputFaults
        Every one that is no amount, or that there are too many.
    """
    from deskmend.measures import parse_amount

    parts = text.split(",")
    if len(parts) > MOST_AMOUNTS:
        raise InputFaults(
            [Fault("command line", None, option, f"{len(parts)} amounts", f"at most {MOST_AMOUNTS}")]
        )
    out, faults = [], []
    for part in parts:
        try:
            out.append(parse_amount(part, currency))
        except Unreadable as error:
            faults.append(Fault("command line", None, option, part, error.allowed, error.hint))
    if faults:
        raise InputFaults(dict.fromkeys(faults))
    return out


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


def today_option(command: Command) -> Command:
    """Add ``--today``: a day that is told, never the machine's, so that output does not change by itself."""
    text = "Day from which the age of prices counts; the newest price of the table if left out."
    return click.option("--today", metavar="YYYY-MM-DD", callback=_day, help=text)(command)


def asked_on_option(command: Command) -> Command:
    """Add ``--today`` to what writes a price table."""
    text = "Day written into every row as the day of its price; left to you if left out."
    return click.option("--today", metavar="YYYY-MM-DD", callback=_day, help=text)(command)


def _day(context: click.Context, parameter: click.Parameter, value: str | None) -> date | None:
    del context
    if value is None:
        return None
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise click.BadParameter(f"read {value!r}, allowed a day as 2026-03-01", param=parameter)


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
