"""What a fund hands out on paper: letters, the delivery list to sign by group, and receipts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files

from markupsafe import Markup

from deskmend.errors import visible
from deskmend.grants.fund import FundShared
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Gift
from deskmend.intake.sender import Sender
from deskmend.language import tr, trn
from deskmend.report.html.blocks import Blocks
from deskmend.report.html.policy import whole_page
from deskmend.report.letter import size_words, write_letter
from deskmend.report.words import item_title, unit_text

__all__ = ["delivery_html", "letter_html", "receipts_html"]


@dataclass(frozen=True)
class _Sheet:
    title: str
    body: Markup
    notes: bool = False
    """Whether the sender's notes stand below it."""


def letter_html(
    shared: FundShared, name: str, catalog: Catalog, contact: str | None, sender: Sender | None
) -> str:
    """The letter of one person, ready to print."""
    page = Blocks(level=2)
    write_letter(page, shared, name, catalog, contact, sender, headed=False)
    title = tr("Your reference: {id}", id=name)
    return _page(title, [_Sheet(title, page.html(), notes=True)], sender)


def delivery_html(shared: FundShared, catalog: Catalog, sender: Sender | None = None) -> str:
    """Who is handed what, group by group, with a line to sign."""
    groups: dict[str, list[str]] = {}
    names = {gift.id for gift in shared.handed.gifts}
    for person in shared.applicants:
        if person.id in names:
            groups.setdefault(person.group or "", []).append(person.id)
    sheets = []
    for group in sorted(groups):
        page = Blocks(level=2)
        head = (tr("Reference"), tr("Things"), tr("Received, date and signature"))
        rows = [(name, _things_of(shared, name, catalog), "") for name in groups[group]]
        page.table([head, *rows], head=True)
        title = tr("Delivery: {group}", group=group) if group else tr("Delivery: no group")
        sheets.append(_Sheet(title, page.html()))
    if not sheets:
        page = Blocks(level=2)
        page.paragraph(tr("Nobody is handed anything in this round."))
        sheets.append(_Sheet(tr("Delivery"), page.html()))
    return _page(tr("Delivery list"), sheets, sender)


def receipts_html(shared: FundShared, catalog: Catalog, sender: Sender | None = None) -> str:
    """A receipt for each person who is handed anything, a page each."""
    called = {row.id: row.name for row in shared.table.people}
    sheets = []
    for name in sorted({gift.id for gift in shared.handed.gifts}):
        page = Blocks(level=2)
        if called.get(name):
            page.paragraph(visible(called[name], None))
        page.points([_thing(gift, shared, catalog) for gift in shared.handed.gifts if gift.id == name])
        page.paragraph(tr("I have received these things."))
        page.table([(tr("Date"), ""), (tr("Signature"), "")])
        sheets.append(_Sheet(tr("Receipt: {id}", id=name), page.html()))
    if not sheets:
        page = Blocks(level=2)
        page.paragraph(tr("Nobody is handed anything in this round."))
        sheets.append(_Sheet(tr("Receipts"), page.html()))
    return _page(tr("Receipts"), sheets, sender)


def _things_of(shared: FundShared, name: str, catalog: Catalog) -> str:
    return "; ".join(_thing(gift, shared, catalog) for gift in shared.handed.gifts if gift.id == name)


def _thing(gift: Gift, shared: FundShared, catalog: Catalog) -> str:
    """One thing that somebody is handed, with its size; of a shared pack, how much of it is theirs."""
    title = item_title(gift.item, catalog)
    if gift.size:
        title += f", {_size(gift, shared)}"
    shared_pack = gift.item in catalog.items and catalog.items[gift.item].shared
    parts = [title]
    if gift.packs:
        parts.append(trn("{count} pack", "{count} packs", gift.packs))
    if shared_pack:
        unit = unit_text(catalog.items[gift.item].unit)
        parts.append(tr("{count} {unit} for this person", count=gift.units, unit=unit))
    return ", ".join(parts)


def _size(gift: Gift, shared: FundShared) -> str:
    return size_words([shared.plans[gift.id]]).get((gift.item, gift.size), gift.size)


def _page(title: str, sheets: Sequence[_Sheet], sender: Sender | None) -> str:
    style = (files("deskmend.report") / "templates" / "handout.css").read_text(encoding="utf-8")
    return whole_page(
        "handout.html",
        style,
        title=title,
        sheets=sheets,
        sender=sender,
        words={"date": tr("Date:"), "reference": tr("Reference:"), "contact": tr("Contact:")},
    )
