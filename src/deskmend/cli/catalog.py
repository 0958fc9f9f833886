"""``deskmend catalog``."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit_page

if TYPE_CHECKING:
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.catalog_records import Fix


@click.command("catalog", short_help="List the fixes, or show one in full.")
@click.argument("fix", metavar="[FIX]", required=False)
@click.option("--copy-as", metavar="NAME", help="Begin a fix of your own as a copy of FIX, under this name.")
@click.option("--title", metavar="TEXT", help="With --copy-as: what it is, in a few words.")
@click.option(
    "--into",
    metavar="DIR",
    help="With --copy-as: the catalog of your own that it goes into; begun as a copy of this one if new.",
)
@shared("catalog", "learned", prices="Price table: tell what the materials cost a pack.")
def catalog_command(
    given: Shared, fix: str | None, copy_as: str | None, title: str | None, into: str | None
) -> None:
    """List all fixes by decision, or show one in full.

    FIX is the name of a fix. It is shown with what it takes, what it changes, how it is done, what to mind,
    and the studies behind it, those that speak against it included. With --copy-as a fix of your own is begun
    as a copy of it, checked with the whole catalog, and shown; change the file then, and run deskmend check.
    """
    from deskmend.errors import InputFaults, did_you_mean, option_fault
    from deskmend.intake.prices import load_prices
    from deskmend.report.catalog import advice_text, catalog_document, catalog_text, fix_text

    catalog = given.catalog()
    prices = None if given.price_file is None else load_prices(given.price_file)
    name = "" if fix is None else fix.lower()
    shown = next((one for one in catalog.fixes if one.id.lower() == name), None)
    advice = next((one for one in catalog.advice if one.id.lower() == name), None)
    copying = [copy_as, into] if title is None else [copy_as, into, title]
    if any(copying) and not (copy_as and into and shown):
        raise InputFaults(
            [option_fault("--copy-as", copy_as, "FIX, --copy-as NAME and --into DIR together")]
            if fix is None or shown is not None
            else [option_fault("FIX", fix, "a fix of the catalog", did_you_mean(fix, catalog.by_id))]
        )
    if copy_as and into and shown is not None:
        catalog = _copied(catalog, shown, copy_as, title or shown.title, Path(into))
        shown = catalog.by_id[copy_as]
    if fix is None:
        given.answer(
            lambda: catalog_document(catalog, catalog.fixes, prices), lambda: emit_page(catalog_text, catalog)
        )
    elif advice is not None and not given.as_json:
        emit_page(advice_text, advice, catalog)
    elif shown is not None:
        given.answer(
            lambda: catalog_document(catalog, (shown,), prices),
            lambda: emit_page(fix_text, shown, catalog, prices),
        )
    else:
        hint = did_you_mean(fix, [*catalog.by_id, *(one.id for one in catalog.advice)])
        fault = option_fault("FIX", fix, "a fix of the catalog", hint or "see deskmend catalog")
        raise InputFaults([fault])


def _copied(catalog: Catalog, fix: Fix, name: str, title: str, folder: Path) -> Catalog:
    """Write a copy of a fix into a catalog of one's own, if the whole is sound with it; gives that."""
    from deskmend.cli.files import write_folder, write_new
    from deskmend.errors import InputFaults, option_fault
    from deskmend.intake.catalog import load_catalog
    from deskmend.intake.fix_copying import catalog_files, copy_text, trial_of
    from deskmend.intake.reading.ids import ALLOWED_ID, is_id
    from deskmend.planning.catalog_check import check_catalog

    if not is_id(name):
        raise InputFaults([option_fault("--copy-as", name, ALLOWED_ID)])
    into = load_catalog(folder) if folder.is_dir() and any(folder.iterdir()) else None
    taken = [one for one in (into or catalog).by_id if one.lower() == name.lower()]
    if taken:
        raise InputFaults([option_fault("--copy-as", name, "a name that no fix of the catalog has")])
    where = f"fixes/{name}.yaml"
    files = catalog_files((into or catalog).folder) | {where: copy_text(catalog, fix, name, title)}
    with tempfile.TemporaryDirectory() as trial:
        read, faults = trial_of(files, Path(trial))
        faults += [] if read is None else check_catalog(read)
        if faults:
            raise InputFaults(
                replace(one, file=str(folder / Path(one.file).relative_to(trial)))
                if Path(one.file).is_relative_to(trial)
                else one
                for one in faults
            )
    if into is None:
        write_folder(folder, files)
    else:
        write_new(folder / where, files[where], force=False)
    return load_catalog(folder)
