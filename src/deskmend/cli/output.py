"""Writing to stdout and stderr: documents as the same bytes everywhere, remarks apart; and exit codes."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, ParamSpec, TextIO

import click

from deskmend.errors import visible
from deskmend.language import tr

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
    from deskmend.report.layout import for_window
    from deskmend.report.screen import for_screen

    with (for_screen if _takes_escapes() else for_window)(shutil.get_terminal_size().columns):
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
