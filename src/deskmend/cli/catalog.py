"""``deskmend catalog``."""

from __future__ import annotations

import click

from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit_page


@click.command("catalog", short_help="List the fixes, or show one in full.")
@click.argument("fix", metavar="[FIX]", required=False)
@shared("catalog", "learned", prices="Price table: tell what the materials cost a pack.")
def catalog_command(given: Shared, fix: str | None) -> None:
    """List all fixes by decision, or show one in full.

    FIX is the name of a fix. It is shown with what it takes, what it changes, how it is done, what to mind,
    and the studies behind it, those that speak against it included.
    """
    from deskmend.errors import InputFaults, did_you_mean, option_fault
    from deskmend.intake.prices import load_prices
    from deskmend.report.catalog import advice_text, catalog_document, catalog_text, fix_text

    catalog = given.catalog()
    prices = None if given.price_file is None else load_prices(given.price_file)
    name = "" if fix is None else fix.lower()
    shown = next((one for one in catalog.fixes if one.id.lower() == name), None)
    advice = next((one for one in catalog.advice if one.id.lower() == name), None)
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
