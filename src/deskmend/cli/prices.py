"""``deskmend prices``."""

from __future__ import annotations

from pathlib import Path

import click

from deskmend.cli.options import Shared, shared
from deskmend.cli.output import emit, emit_page
from deskmend.language import tr, trn


@click.group("prices", short_help="Write, keep and compare price tables.")
def prices_command() -> None:
    """Write price tables to fill in, and keep them.

    Ask only for what could matter: deskmend prices new --for case.yaml --out prices.csv
    """


@prices_command.command("new", short_help="Write a table of exactly the items that could matter.")
@click.option("--for", "case_file", metavar="CASE", required=True, help="Case file to ask for.")
@click.option("--out", metavar="FILE", help="Where it goes; a file that is there already is kept.")
@shared("catalog", today="Day written into every row as the day of its price; left to you if left out.")
def new_prices_command(
    given: Shared,
    case_file: str,
    out: str | None,
) -> None:
    """Write a price table with the items that some fix for this case takes, and no prices.

    Items that decide most come first; what the person owns enough of is left out. Pack sizes are suggestions.
    """
    from deskmend.cli.files import write_new
    from deskmend.errors import InputFaults, visible
    from deskmend.intake.case_file import load_case
    from deskmend.planning.inputs import fitting_faults
    from deskmend.planning.price_questions import price_questions
    from deskmend.report.forms.blank import price_form, price_form_document

    case = load_case(case_file)
    catalog = given.catalog()
    faults = fitting_faults(case, catalog)
    if faults:
        raise InputFaults(faults)
    questions = price_questions(case, catalog)
    text = price_form(case, catalog, questions, given.today)
    if out is not None:
        write_new(Path(out), text, force=False)

    def page() -> None:
        if out is None:
            emit(text)
        elif not given.quiet:
            told = trn(
                "{file} is written: {count} price to ask. Then run: deskmend check {file}",
                "{file} is written: {count} prices to ask. Then run: deskmend check {file}",
                len(questions),
                file=visible(out, None),
            )
            emit(f"{told}\n")

    given.answer(lambda: price_form_document(case, catalog, questions), page)


@prices_command.command("add", short_help="Add a row to a price table, or replace one.")
@click.argument("table", metavar="TABLE")
@click.option("--item", metavar="ITEM", required=True, help="What it is: an item of the catalog.")
@click.option("--price", metavar="AMOUNT", required=True, help="What a pack costs.")
@click.option("--pack", metavar="N", default="1", show_default=True, help="Units in a pack.")
@click.option("--size", metavar="SIZE", help="The size that the price is for, where sizes differ in price.")
@click.option("--low", metavar="AMOUNT", help="Least it may cost.")
@click.option("--high", metavar="AMOUNT", help="Most it may cost.")
@click.option("--currency", metavar="CODE", help="Currency; the table's own if left out, EUR in a new one.")
@click.option("--stock", metavar="N", help="Packs that can be had; any number if left out.")
@click.option("--from-packs", metavar="N", help="The price holds from so many packs on.")
@click.option("--condition", metavar="TEXT", help="As new or used.")
@click.option("--as-of", metavar="YYYY-MM-DD", help="Day of the price.")
@click.option("--source", metavar="TEXT", help="Where the price was seen.")
@click.option("--replace", is_flag=True, help="Take the place of the row of this item that is there.")
@shared("catalog")
def add_price_command(
    given: Shared, table: str, item: str, size: str | None, replace: bool, **cells: str | None
) -> None:
    """Add a row to a price table, or replace one; all else in it stays as it is.

    TABLE is a price table; a new one is begun where there is none. The whole table is checked with the row
    before it is written.
    """
    from deskmend.cli.files import write_new
    from deskmend.errors import InputFaults, did_you_mean, option_fault, visible
    from deskmend.intake.price_keeping import with_price
    from deskmend.intake.prices import load_prices, sized_item
    from deskmend.planning.inputs import DEFAULT_CURRENCY

    faults = []
    items = given.catalog().items
    if item not in items:
        faults.append(option_fault("--item", item, "an item of the catalog", did_you_mean(item, items)))
    path = Path(table)
    row = {"item": sized_item(item, size or "")} | {key: text for key, text in cells.items() if text}
    try:
        if "currency" not in row:
            row["currency"] = load_prices(path).currency if path.exists() else DEFAULT_CURRENCY
        text = with_price(path, row, replace)
    except InputFaults as error:
        faults.extend(error.faults)
    if faults:
        raise InputFaults(faults)
    write_new(path, text, force=True)
    told = tr("{item} is written into {file}.", item=visible(row["item"]), file=visible(table, None))
    given.written(table, told)


@prices_command.command("age", short_help="Say which prices of a table are old.")
@click.argument("table", metavar="TABLE")
@shared("today")
def age_command(given: Shared, table: str) -> None:
    """Say how old each price is, the oldest first, and which are over a year old.

    TABLE is a price table. Age counts from --today, else from the newest price of the table.
    """
    from deskmend.intake.price_keeping import ages_of
    from deskmend.intake.prices import load_prices
    from deskmend.report.prices import ages_document, ages_text

    ages = ages_of(load_prices(table), given.today)
    given.answer(lambda: ages_document(table, ages), lambda: emit_page(ages_text, ages))


@prices_command.command("compare", short_help="Set two price tables side by side.")
@click.argument("first", metavar="TABLE")
@click.argument("second", metavar="TABLE2")
@shared()
def compare_prices_command(given: Shared, first: str, second: str) -> None:
    """Say what is dearer and what is cheaper in a second table, and what only one of the two has.

    TABLE and TABLE2 are price tables of one currency. Where packs differ, what a unit costs is compared.
    """
    from deskmend.intake.price_keeping import pairs_of
    from deskmend.intake.prices import load_prices
    from deskmend.report.prices import pairs_document, pairs_text

    pairs = pairs_of(load_prices(first), load_prices(second))
    given.answer(
        lambda: pairs_document(first, second, pairs), lambda: emit_page(pairs_text, first, second, pairs)
    )
