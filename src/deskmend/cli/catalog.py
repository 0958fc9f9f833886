"""``deskmend catalog``."""

from __future__ import annotations

import click

from deskmend.cli.options import catalog_option, json_option, quiet_option, reader_options
from deskmend.cli.output import emit_document, emit_page

__all__ = ["catalog_command"]


@click.command("catalog", short_help="List the fixes, or show one in full.")
@click.argument("fix", metavar="[FIX]", required=False)
@catalog_option
@click.option(
    "--prices", "price_file", metavar="FILE", help="Price table: tell what the materials cost a pack."
)
@json_option
@quiet_option
@reader_options
def catalog_command(
    fix: str | None, catalog_folder: str | None, price_file: str | None, as_json: bool, quiet: bool
) -> None:
    """List all fixes by decision, or show one in full.

    FIX is the name of a fix. It is shown with what it takes, what it changes, how it is done, what to mind,
    and the studies behind it, those that speak against it included.
    """
    del quiet  # nothing is remarked on here; the option is taken so that every command has it
    from deskmend.errors import Fault, InputFaults, did_you_mean
    from deskmend.intake.catalog import load_catalog
    from deskmend.intake.prices import load_prices

    catalog = load_catalog(catalog_folder)
    prices = None if price_file is None else load_prices(price_file)
    by_name = {one.id.lower(): one for one in catalog.fixes}
    advice = {one.id.lower(): one for one in catalog.advice}
    if fix is not None and fix.lower() in advice and not as_json:
        from deskmend.report.catalog import advice_text

        emit_page(advice_text, advice[fix.lower()], catalog)
        return
    if fix is not None and fix.lower() not in by_name:
        hint = (
            did_you_mean(fix, [*catalog.by_id, *(one.id for one in catalog.advice)]) or "see deskmend catalog"
        )
        raise InputFaults([Fault("command line", None, "FIX", fix, "a fix of the catalog", hint)])
    if as_json:
        from deskmend.report.catalog import catalog_document

        chosen = catalog.fixes if fix is None else (by_name[fix.lower()],)
        emit_document(catalog_document(catalog, chosen, prices))
    else:
        from deskmend.report.catalog import catalog_text, fix_text

        if fix is None:
            emit_page(catalog_text, catalog)
        else:
            emit_page(fix_text, by_name[fix.lower()], catalog, prices)
