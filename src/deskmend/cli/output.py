"""Writing to stdout and stderr: documents as the same bytes everywhere, remarks apart from them."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from typing import Any

import click

from deskmend.errors import visible

__all__ = ["emit", "emit_document", "remark"]


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
