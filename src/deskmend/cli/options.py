"""What commands share: options for where things are read and how it is answered, and money given as text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date
from functools import wraps
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from deskmend.cli.output import emit, emit_document, remark, waiting
from deskmend.errors import InputFaults, Unreadable, option_fault
from deskmend.language import LANGUAGES, LENGTH_UNITS, measure_in, read_in

if TYPE_CHECKING:
    from deskmend.intake.case import Case
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.prices import PriceTable
    from deskmend.measures import Minor

FIX = "[PLACE.|TASK.]FIX[=VALUE]"
"""How a fix is named."""
MOST_AMOUNTS = 100
"""Most amounts in one list."""

Command = Callable[..., Any]


class CaseInputs(NamedTuple):
    """A case with what is needed to plan for it, and what has to be said of its prices."""

    case: Case
    catalog: Catalog
    prices: PriceTable
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Shared:
    """What was given for the options that commands share; a command has those that it names in `shared`."""

    catalog_folder: str | None = None
    learned_file: str | None = None
    price_file: str | None = None
    today: date | None = None
    as_json: bool = False
    quiet: bool = False

    def catalog(self) -> Catalog:
        """Load the catalog."""
        from deskmend.intake.catalog import load_catalog

        catalog = load_catalog(self.catalog_folder)
        if self.learned_file is None:
            return catalog
        from deskmend.intake.learned import load_learned

        return load_learned(catalog, self.learned_file)

    def inputs(self, case_file: str) -> CaseInputs:
        """Load a case, the catalog and the prices of the case."""
        from deskmend.intake.case_file import load_case

        return self.inputs_for(load_case(case_file))

    def inputs_for(self, case: Case) -> CaseInputs:
        """Load the catalog and the prices of a case."""
        from deskmend.planning.inputs import find_prices

        catalog = self.catalog()
        found = find_prices(case, catalog, self.price_file, self.today)
        return CaseInputs(case, catalog, found.table, found.warnings)

    def waiting(self, what: str) -> AbstractContextManager[None]:
        """Tell somebody at a terminal that long work goes on within a ``with`` block."""
        return waiting(what, self.quiet)

    def remark(self, warnings: Iterable[str], *, on_page: bool = False) -> None:
        """Say warnings on stderr; those that stand on the page too are not said twice at one terminal."""
        remark(warnings, self.quiet, shown=on_page and not self.as_json)

    def answer(self, document: Callable[[], Mapping[str, Any]], page: Callable[[], object]) -> None:
        """Write one JSON document to stdout where that was asked for, else the page."""
        if self.as_json:
            emit_document(document())
        else:
            page()

    def written(self, file: str, told: str) -> None:
        """Tell that a file is written."""
        document = {"format": "deskmend-written/1", "file": file}
        self.answer(lambda: document, lambda: None if self.quiet else emit(f"{told}\n"))


def _day(context: click.Context, parameter: click.Parameter, value: str | None) -> date | None:
    del context
    if value is None:
        return None
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            return date.fromisoformat(value)
    except ValueError:
        # As 2026-02-30: told with every other text that is no day.
        pass
    raise click.BadParameter(f"read {value!r}, allowed a day as 2026-03-01", param=parameter)


def _call_with(choose: Callable[[str], None]) -> Callable[[click.Context, click.Parameter, str | None], None]:
    """Callback that makes a reader's choice where there is one; it holds to the end of the program's run."""

    def chosen(context: click.Context, parameter: click.Parameter, value: str | None) -> None:
        del context, parameter
        if value is not None:
            choose(value)

    return chosen


_OPTIONS: dict[str, dict[str, Any]] = {
    "catalog": {
        "param_decls": ("--catalog", "catalog_folder"),
        "metavar": "DIR",
        "help": "Folder with the fixes to choose from; the one that comes with deskmend if left out.",
    },
    "learned": {
        "param_decls": ("--learned", "learned_file"),
        "metavar": "FILE",
        "help": "Figures learned from a casebook, from casebook learn --out, in place of the catalog's own.",
    },
    "prices": {
        "param_decls": ("--prices", "price_file"),
        "metavar": "FILE",
        "help": "Price table; if left out, prices.csv beside the case, else an invented sample with a "
        "warning.",
    },
    # A day that is told, never the machine's, so that output does not change by itself.
    "today": {
        "param_decls": ("--today",),
        "metavar": "YYYY-MM-DD",
        "callback": _day,
        "help": "Day from which the age of prices counts; the newest price of the table if left out.",
    },
    "json": {
        "param_decls": ("--json", "as_json"),
        "is_flag": True,
        "help": "Write one JSON document to standard output and nothing else there.",
    },
    "quiet": {
        "param_decls": ("--quiet",),
        "is_flag": True,
        "help": "Say only what was asked for: no warnings, no remarks.",
    },
    "language": {
        "param_decls": ("--language",),
        "type": click.Choice(LANGUAGES),
        "expose_value": False,
        "callback": _call_with(read_in),
        "help": "Language of what is told: en or es; English if left out.",
    },
    "units": {
        "param_decls": ("--units",),
        "type": click.Choice(LENGTH_UNITS),
        "expose_value": False,
        "callback": _call_with(measure_in),
        "help": "Lengths in sentences: mm, or in (inches, one decimal). Figures in documents stay in mm.",
    },
}
"""Options by name, in the order of help texts."""

_ALWAYS = ("json", "quiet", "language", "units")


def shared(*names: str, **helps: str) -> Callable[[Command], Command]:
    """Give a command some of ``catalog``, ``learned``, ``prices`` and ``today``, and what every one has.

    A help text of the command's own may be given by name. The command takes a `Shared` first.
    """

    def with_options(command: Command) -> Command:
        @wraps(command)
        def run(**given: Any) -> Any:
            mine = {key: given.pop(key) for key in Shared.__dataclass_fields__ if key in given}
            return command(Shared(**mine), **given)

        for name in reversed(_OPTIONS):
            if name in (*names, *helps, *_ALWAYS):
                settings = dict(_OPTIONS[name])
                settings["help"] = helps.get(name, settings["help"])
                click.option(*settings.pop("param_decls"), **settings)(run)
        return run

    return with_options


def amounts(given: Mapping[str, str | None], currency: str) -> dict[str, Minor | None]:
    """Read amounts of money given by option, as ``{"--budget": "40.00"}``; None where nothing was given.

    Raises `InputFaults` with every one that is no amount.
    """
    from deskmend.measures import parse_amount

    out: dict[str, Minor | None] = dict.fromkeys(given)
    faults = []
    for option, text in given.items():
        try:
            out[option] = None if text is None else parse_amount(text, currency)
        except Unreadable as error:
            faults.append(option_fault(option, text, error.allowed, error.hint))
    if faults:
        raise InputFaults(faults)
    return out


def amount_list(option: str, text: str | None, currency: str) -> list[Minor] | None:
    """Read amounts of money that commas separate, as ``0,20,50.00``; None where nothing was given.

    Raises `InputFaults` with every one that is no amount, or where there are too many.
    """
    from deskmend.measures import parse_amount

    if text is None:
        return None
    parts = text.split(",")
    if len(parts) > MOST_AMOUNTS:
        raise InputFaults([option_fault(option, f"{len(parts)} amounts", f"at most {MOST_AMOUNTS}")])
    out, faults = [], []
    for part in parts:
        try:
            out.append(parse_amount(part, currency))
        except Unreadable as error:
            faults.append(option_fault(option, part, error.allowed, error.hint))
    if faults:
        raise InputFaults(dict.fromkeys(faults))
    return out
