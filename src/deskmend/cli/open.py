"""``deskmend open``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli import output
from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit, emit_document, tell
from deskmend.errors import Fault, InputFaults, visible
from deskmend.language import current_language, current_unit, tr

if TYPE_CHECKING:
    from deskmend.report.other_documents import OpenedDocument


@click.command("open", short_help="Open a page on this machine to see and change cases.")
@click.argument("folder", metavar="[FOLDER]", default=".")
@click.option(
    "--port", metavar="N", type=click.IntRange(1, 65535), help="Port to serve at; a free one if left out."
)
@click.option("--no-browser", is_flag=True, help="Do not open a browser; say which file opens the page.")
@click.option(
    "--host",
    metavar="HOST",
    default="127.0.0.1",
    show_default=True,
    help="Address to serve at. Any but this machine's own lets others in the network reach the page.",
)
@shared(
    "catalog",
    prices="Price table for every case; if left out, prices.csv beside the case, else an invented sample.",
)
def open_command(given: Shared, folder: str, port: int | None, no_browser: bool, host: str) -> int:
    """Open the local page: cases of a folder, what strains, plans for every budget, and what to hand over.

    FOLDER holds the cases; this folder if left out. The page is served from this machine to this machine
    alone, and written is only into FOLDER. It runs until you press Ctrl-C.
    """
    from deskmend.local_page.engine import Manner
    from deskmend.local_page.safety import is_loopback
    from deskmend.local_page.serving import serve

    path = Path(folder)
    try:
        there = path.is_dir()
    except (OSError, ValueError):
        there = False
    if not there:
        raise InputFaults([Fault("command line", None, "FOLDER", folder, "a folder that is there")])
    if not is_loopback(host):
        warning = tr(
            "--host {host}: others in your network can reach this page; what it sends is not encrypted",
            host=visible(host),
        )
        given.remark([warning])
    given.catalog()

    def told(address: str, file: Path) -> None:
        if given.as_json:
            document: OpenedDocument = {
                "format": "deskmend-opened/1",
                "address": address,
                "file": str(file),
            }
            emit_document(document)
            return
        emit(tr("The page is open at {address}", address=address) + "\n")
        emit(tr("To open it in a browser, open this file: {file}", file=str(file)) + "\n")
        if not given.quiet:
            emit(tr("Ctrl-C ends it.") + "\n")

    try:
        serve(
            path,
            host,
            port,
            not no_browser,
            given.catalog_folder,
            given.price_file,
            Manner(current_language(), current_unit()),
            told,
        )
    except KeyboardInterrupt:
        tell(tr("The page is closed."))
    return output.DONE
