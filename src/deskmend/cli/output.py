"""Writing to stdout and stderr: documents as the same bytes everywhere, remarks apart from them."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import click

from deskmend.errors import visible

__all__ = ["emit", "emit_document", "remark", "waiting"]

PATIENCE = 2.0
"""Seconds after which somebody at a terminal is told that work goes on."""


def emit(text: str) -> None:
    """Write text to stdout in UTF-8 with plain line ends, whatever the machine's own habits are."""
    stream = sys.stdout.buffer
    sys.stdout.flush()
    stream.write(text.encode("utf-8", "replace"))
    stream.flush()


def emit_document(document: Mapping[str, Any]) -> None:
    """Write one JSON document to stdout."""
    from deskmend.report.json_text import json_text

    emit(json_text(document))


def remark(warnings: Iterable[str], quiet: bool, shown: bool = False) -> None:
    """Say warnings on stderr.

    Parameters
    ----------
    warnings : iterable of str
        What has to be said.
    quiet : bool
        Say nothing.
    shown : bool
        The page on stdout says them too: then a person who sees both at one terminal is not told twice.
    """
    if quiet or (shown and sys.stdout.isatty() and sys.stderr.isatty()):
        return
    for warning in warnings:
        click.echo(f"warning: {visible(warning, None)}", err=True)


@contextmanager
def waiting(what: str, quiet: bool) -> Iterator[None]:
    """Tell somebody at a terminal, on stderr, that long work goes on; pipes and files are told nothing.

    Parameters
    ----------
    what : str
        What is being done.
    quiet : bool
        Say nothing.
    """
    if quiet or not sys.stderr.isatty():
        yield
        return
    done = threading.Event()

    def tick() -> None:
        seconds = PATIENCE
        while not done.wait(PATIENCE if seconds == PATIENCE else 1.0):
            sys.stderr.write(f"\r{what} ... {seconds:.0f} s")
            sys.stderr.flush()
            seconds += 1.0
        if seconds > PATIENCE:
            sys.stderr.write("\r" + " " * (len(what) + 16) + "\r")
            sys.stderr.flush()

    ticker = threading.Thread(target=tick, daemon=True)
    ticker.start()
    try:
        yield
    finally:
        done.set()
        ticker.join()
