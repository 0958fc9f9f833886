"""What commands share: options, text and documents to stdout and stderr, files whole or not at all."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sys
import tempfile
import textwrap
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import date
from functools import partial, wraps
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple, ParamSpec, TextIO, TypeVar

import click

from deskmend.errors import Fault, InputFaults, Unreadable, option_fault, visible, why_unusable
from deskmend.language import LANGUAGES, LENGTH_UNITS, measure_in, read_in, tr

if TYPE_CHECKING:
    from deskmend.intake.case import Case
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.prices import PriceTable
    from deskmend.measures import Minor


def refuse_folder(path: Path) -> None:
    """Refuse a place for a folder before hours of work are spent on what would go there.

    `InputFaults` where something is there already, or the place cannot be used.
    """

    def refused(note: str) -> InputFaults:
        return InputFaults([Fault(str(path), None, "--out", None, "a new or empty folder", note=note)])

    try:
        if path.is_symlink() or (path.exists() and not path.is_dir()):
            raise refused("is there already and is no folder")
        if path.is_dir() and any(path.iterdir()):
            raise refused("is there already and is not empty")
        if not path.parent.is_dir():
            raise refused("the folder it would stand in does not exist")
        if not os.access(path.parent, os.W_OK):
            raise refused("the folder it would stand in may not be written to")
    except (OSError, ValueError):
        raise refused("not a usable path") from None


LEFT_AFTER = 3600
"""Age from which a half-written folder counts as left by a killed process [s]; writing one takes seconds."""


def clear_half_written(path: Path) -> None:
    """Remove what processes that were killed have left half written beside a folder."""
    start, old = f".{path.name}.", time.time() - LEFT_AFTER
    try:
        left = [one for one in path.parent.iterdir() if one.name.startswith(start) and one.suffix == ".part"]
        for one in left:
            if one.is_dir() and not one.is_symlink() and one.stat().st_mtime < old:
                shutil.rmtree(one, ignore_errors=True)
    except OSError:
        # another process clears here too, or this one may not: neither is in the way of what is written now
        return


def write_folder(path: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files about people, by path within it, into a new folder, which appears only when all are there.

    Nobody but the owner may read them. An empty folder is replaced. `InputFaults` where it cannot be written,
    or something has come to stand there.
    """
    refuse_folder(path)
    clear_half_written(path)
    beside = None
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent))
        for name, content in files.items():
            file = beside / name
            for folder in reversed(file.relative_to(beside).parents[:-1]):
                (beside / folder).mkdir(mode=0o700, exist_ok=True)
            descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with open(descriptor, "wb") as stream:
                stream.write(content.encode("utf-8") if isinstance(content, str) else content)
        if path.is_dir():
            path.rmdir()
        os.rename(beside, path)
        beside = None
    except (OSError, ValueError) as error:
        note = f"cannot be written: {why_unusable(error)}"
        allowed = "a new or empty folder that may be written to"
        raise InputFaults([Fault(str(path), None, "--out", None, allowed, note=note)]) from None
    finally:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)


def write_folder_or_another(
    path: Path, files: Mapping[str, str | bytes], another: Callable[[], str | None]
) -> tuple[Path | None, list[Fault]]:
    """Write a folder like `write_folder`; where that fails, one that is named instead, else one of our own.

    `another` tells the next folder to try, None for no more. Gives where the files stand, None for nowhere,
    with the faults of every place that would not do.
    """
    faults: list[Fault] = []
    while True:
        try:
            write_folder(path, files)
            return path, faults
        except InputFaults as error:
            faults += error.faults
        named = another()
        if named is None:
            break
        path = Path(named)
    try:
        path = Path(tempfile.mkdtemp(prefix="deskmend-")) / "allocation"
        write_folder(path, files)
    except OSError:
        return None, faults
    except InputFaults as error:
        return None, [*faults, *error.faults]
    return path, faults


def _refuse_to_write(path: Path, allowed: str, note: str) -> InputFaults:
    return InputFaults([Fault(str(path), None, "", None, allowed, note=note)])


def refuse_existing(
    path: Path, force: bool, allowed: str = "a new file, or --force to write over it"
) -> None:
    """Refuse a folder, and without `force` a file that is there already."""
    if path.is_dir():
        raise _refuse_to_write(path, "a file", "is a folder")
    if not force and os.path.lexists(path):
        raise _refuse_to_write(path, allowed, "is there already")


def refuse_target(path: Path) -> None:
    """Refuse before a long search what could not be written after it: a folder, or a file in none."""
    refuse_existing(path, force=True)
    if not path.parent.is_dir():
        raise _refuse_to_write(
            path, "a file in a folder that is there", "cannot be written: there is no such folder"
        )


def refuse_unless_new(path: Path) -> None:
    """Refuse before any work what is there already, for a command that writes over nothing."""
    refuse_existing(path, force=False, allowed="a new file")
    refuse_target(path)


def refuse_other_than_page(out: str) -> None:
    """Refuse a name of ``--out`` that is no page's, and what could not be written."""
    if not out.lower().endswith((".html", ".htm")):
        raise InputFaults([option_fault("--out", out, "a name that ends in .html")])
    refuse_target(Path(out))


def write_new(path: Path, content: str | bytes, force: bool) -> None:
    """Write a file whole or not at all, text in UTF-8; without `force` never over one that is there.

    `InputFaults` where it is there already, or cannot be written.
    """
    with _put_in_place(path) as beside:
        refuse_existing(path, force)
        with open(beside, "xb") as stream:
            stream.write(content.encode("utf-8") if isinstance(content, str) else content)


def write_over(path: Path, text: str, digest: str) -> None:
    """Write a file about people anew, whole or not at all, for its owner's eyes alone.

    `digest` is the SHA-256 of what is there now, empty for nothing. `InputFaults` where something else has
    come to stand there, since somebody else may have written to it, or where it cannot be written.
    """
    with _put_in_place(path) as beside:
        now = hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""
        if now != digest:
            raise _refuse_to_write(path, "the file as it was read", "has changed since; run it once more")
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with open(descriptor, "wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())


@contextmanager
def _put_in_place(path: Path) -> Iterator[Path]:
    """A file beside another, to be written and then put in its place; `InputFaults` where that fails."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part") if path.name else path
    try:
        yield beside
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        raise _refuse_to_write(
            path, "a file in a folder that may be written to", f"cannot be written: {why_unusable(error)}"
        ) from None
    finally:
        _remove(beside)


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except (OSError, ValueError):
        return


DONE = 0
NO_PLAN = 1
"""No plan keeps to the limits."""
BAD_INPUT = 2
"""Faults in what was given."""
NOT_PROVEN = 3
"""Not proven best within the time allowed; plan and gap are shown."""
DEFECT = 70
"""A defect of ours."""
INTERRUPTED = 130
"""Stopped by the person at the keyboard."""
CLOSED = 141
"""Whoever read our output stopped reading."""


_Given = ParamSpec("_Given")

TOLD_AFTER = 2.0
"""Seconds after which somebody at a terminal is told that work goes on."""


def emit(text: str) -> None:
    """Write text to stdout in UTF-8 with plain line ends, whatever the machine's own habits are."""
    stream = sys.stdout.buffer
    sys.stdout.flush()
    stream.write(text.encode("utf-8", "replace"))
    stream.flush()


def emit_page(write: Callable[_Given, str], *given: _Given.args, **named: _Given.kwargs) -> None:
    """Write the text that a function gives, at a terminal with ruled tables, weight and a little colour."""
    with in_window(sys.stdout):
        emit(write(*given, **named))


@contextmanager
def in_window(stream: TextIO) -> Iterator[None]:
    """Lay pages out for the terminal that a stream goes to, within a ``with`` block; others as ever."""
    if not stream.isatty():
        yield
        return
    from deskmend.report.layout import laid_out_by, plain_text, width_in
    from deskmend.report.screen import screen_text

    width = width_in(shutil.get_terminal_size().columns)
    with laid_out_by(partial(screen_text if _takes_escapes() else plain_text, width=width)):
        yield


def _takes_escapes() -> bool:
    """Whether the terminal takes escapes and nobody asked for plain text."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    if sys.platform != "win32":
        return True
    from rich.console import detect_legacy_windows

    return not detect_legacy_windows()


def emit_document(document: Mapping[str, Any]) -> None:
    """Write one JSON document to stdout."""
    from deskmend.report.documents import json_text

    emit(json_text(document))


def tell(text: str) -> None:
    """Say something on stderr, line by line as it is; at a terminal without breaking a word."""
    lines = text.splitlines()
    if sys.stderr.isatty():
        width = shutil.get_terminal_size().columns
        lines = [part for line in lines for part in textwrap.wrap(line, width, subsequent_indent="  ")]
    for line in lines:
        click.echo(line, err=True)


def remark(warnings: Iterable[str], quiet: bool, shown: bool = False) -> None:
    """Say warnings on stderr, unless asked to be quiet.

    Where the page on stdout shows them too, a person who sees both at one terminal is not told twice.
    """
    if quiet or (shown and sys.stdout.isatty() and sys.stderr.isatty()):
        return
    for warning in warnings:
        tell(tr("warning: {warning}", warning=visible(warning, None)))


@contextmanager
def waiting(what: str, quiet: bool) -> Iterator[None]:
    """Tell somebody at a terminal, on stderr, that long work goes on; pipes and files are told nothing."""
    if quiet or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield
        return
    from deskmend.progress import listening

    done = threading.Event()
    share = [(0, 0)]
    watcher = threading.Thread(target=_watch, args=(what, done, share), daemon=True)
    watcher.start()
    try:
        with listening(lambda parts, whole: share.append((parts, whole))):
            yield
    finally:
        done.set()
        watcher.join()


def _watch(what: str, done: threading.Event, share: list[tuple[int, int]]) -> None:
    """Show how long work takes, and the share done where it is known, until it is done."""
    if done.wait(TOLD_AFTER):
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        SpinnerColumn,
        TaskProgressColumn,
        TextColumn,
        TimeElapsedColumn,
    )

    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    shares = (BarColumn(), TaskProgressColumn())
    begun = time.monotonic() - TOLD_AFTER
    with Progress(*columns, *shares, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(what, total=None)
        progress.tasks[0].start_time = progress.get_time() - (time.monotonic() - begun)
        while not done.wait(0.2):
            parts, whole = share[-1]
            del share[:-1]
            progress.update(task, completed=parts, total=whole or None)


FIX = "[PLACE.|TASK.]FIX[=VALUE]"
"""How a fix is named."""
FORCE = click.option("--force", is_flag=True, help="Write over a file that is there already.")
MOST_AMOUNTS = 100
"""Most amounts in one list."""

Command = Callable[..., Any]
Read = TypeVar("Read")


class CaseInputs(NamedTuple):
    """A case with what is needed to plan for it, and what has to be said of its prices."""

    case: Case
    catalog: Catalog
    prices: PriceTable
    notes: tuple[str, ...]


FixNames = Mapping[str, Sequence[str]]
"""Names of fixes as typed, by the option that gives them."""


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
        from deskmend.intake.catalog import load_learned

        return load_learned(catalog, self.learned_file)

    def inputs(self, case_file: str, names: FixNames = MappingProxyType({})) -> CaseInputs:
        """Load a case, the catalog and the prices of the case; `InputFaults` with every fault of them.

        Beside those stand faults of `names`, by the option that gives them. Names alone are left to whoever
        asks what the case offers.
        """
        from deskmend.intake.case_file import load_case

        try:
            return self.inputs_for(load_case(case_file))
        except InputFaults as error:
            raise error.beside(
                self.catalog, partial(self._prices_alone, case_file), partial(self.misnamed, case_file, names)
            ) from None

    def inputs_and(
        self,
        case_file: str,
        options: Callable[[str | None], Read],
        names: FixNames = MappingProxyType({}),
    ) -> tuple[CaseInputs, Read]:
        """Load them, and read what else was given by the currency of the prices, None where it is not known.

        `InputFaults` with every fault of files, options and `names` alike.
        """
        try:
            found = self.inputs(case_file, names)
        except InputFaults as error:
            raise error.beside(partial(options, None)) from None
        try:
            return found, options(found.prices.currency)
        except InputFaults as error:
            raise error.beside(partial(self.misnamed, case_file, names)) from None

    def misnamed(self, case_file: str, names: FixNames) -> None:
        """Refuse names that mean nothing, as far as catalog and case can be read."""
        from deskmend.intake.case_file import load_case
        from deskmend.intake.catalog import misnamed

        try:
            catalog = self.catalog()
        except InputFaults:
            return
        try:
            case = load_case(case_file)
        except InputFaults:
            case = None
        faults = [
            option_fault(option, text, *told)
            for option, texts in names.items()
            for text in texts
            if (told := misnamed(text, case, catalog)) is not None
        ]
        if faults:
            raise InputFaults(faults)

    def _prices_alone(self, case_file: str) -> None:
        """Read the prices of a case that cannot be read itself."""
        from deskmend.planning.inputs import prices_for

        prices_for(self.catalog(), self.price_file, case_file, None, self.today)

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


def amounts(given: Mapping[str, str | None], currency: str | None) -> dict[str, Minor | None]:
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


def amount_list(option: str, text: str | None, currency: str | None) -> list[Minor] | None:
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
