"""What a fund hands out on paper: a letter for each person, the delivery list to sign, receipts.

A letter tells nothing of others and nothing of the person's health; warning signs are answered only by the
advice to see a clinician. It gives no sum and no count of the fund's: those are for whoever shares it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from deskmend.errors import DefectError, visible
from deskmend.grants.fund import FundShared
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.terms import Waiting
from deskmend.intake.case_file import Sender
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Urgency
from deskmend.intake.given_before import Gift
from deskmend.intake.prices import plain_item
from deskmend.language import tr, trn
from deskmend.planning.fit import lacks_of
from deskmend.planning.mismatch import NotPadded, mismatches_in
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.options import number_text
from deskmend.report.fit import crowded_out, crowded_text, fit_lines, mismatch_lines
from deskmend.report.html.blocks import Blocks, template_text, whole_page
from deskmend.report.layout import Page
from deskmend.report.not_given import decided_by, not_this_time
from deskmend.report.steps import how_text, said, size_text, step_title
from deskmend.report.words import item_title, minutes_text, money_text, unit_text
from deskmend.workstation.state import State

__all__ = [
    "delivery_html",
    "letter",
    "letter_html",
    "receipts_html",
    "room_lacking",
    "size_words",
    "sizes_needed",
    "still_amiss",
    "write_letter",
    "write_still_amiss",
]

SEEN_FIRST: dict[Urgency, str] = {
    "emergency": "Please get emergency care now: call the emergency number. This letter can wait.",
    "today": "Please get medical advice today, before you change anything.",
    "soon": "Before you change anything, please see a doctor or nurse.",
}
"""First line of a letter, by the most urgent warning sign; it names none."""


def letter(
    shared: FundShared, name: str, catalog: Catalog, contact: str | None = None, sender: Sender | None = None
) -> str:
    """Letter of the person with an id; the fund must have been shared with steps.

    `contact` says whom to ask; the sender's where it is left out, else who sends the letter.
    """
    page = Page()
    write_letter(page, shared, name, catalog, contact, sender)
    return page.text()


def write_letter(
    page: Page,
    shared: FundShared,
    name: str,
    catalog: Catalog,
    contact: str | None = None,
    sender: Sender | None = None,
    headed: bool = True,
) -> None:
    """Write a letter on a page; without `headed`, sender and reference stand above it already."""
    if sender is not None and headed:
        for line in (sender.name, *sender.address):
            page.paragraph(visible(line, None))
        if sender.date:
            page.paragraph(tr("Date: {date}", date=visible(sender.date, None)))
        page.blank()
    plan = shared.plans[name]
    called = next((row.name for row in shared.table.people if row.id == name), "")
    if plan.urgency is not None:
        page.paragraph(tr(SEEN_FIRST[plan.urgency]))
        page.blank()
    page.paragraph(tr("Hello {name},", name=visible(called, None)) if called else tr("Hello,"))
    if headed:
        page.paragraph(tr("Your reference: {id}", id=name))
    page.blank()
    waiting = next((one for one in shared.allocation.waiting if one.id == name), None)
    had = _had_before(shared, name, catalog)
    page.paragraph(_answer(plan, waiting, shared, bool(had)))
    if had:
        page.heading(tr("You have from an earlier round"))
        page.points(had)
        page.paragraph(tr("Keep these things. This letter counts on them."))
    _things(page, shared, name, catalog)
    after = plan.state_after
    free, later = plan.steps[: plan.today], plan.steps[plan.today :]
    if free:
        page.heading(tr("Do this first. It costs nothing."))
        _steps(page, free, 1, plan, after)
    if later:
        page.heading(tr("Do this when your things are there."))
        _steps(page, later, len(free) + 1, plan, after)
    amiss = still_amiss(shared, name)
    if amiss:
        page.heading(tr("What we cannot put right this time"))
        page.points(amiss)
        page.paragraph(tr("If you can get at something that suits you better, ask us for help with it."))
    page.heading(tr("Why this"))
    page.paragraph(_why(plan))
    decided = next((row.decided for row in shared.table.people if row.id == name), None)
    if decided is not None and (who := visible(decided_by(decided), None)):
        page.paragraph(tr("Part of this was decided by people, not by the search: {who}.", who=who))
    elif decided is not None:
        page.paragraph(tr("Part of this was decided by people, not by the search. Ask us for the reason."))
    _signs(page, plan.steps, plan, after)
    page.blank()
    page.paragraph(tr("Look again after two weeks. Does it feel right? If not, change it or ask us."))
    if contact is None and sender is not None:
        contact = sender.contact or sender.name
    asked = tr("whoever sent you this letter") if contact is None else visible(contact, None)
    page.paragraph(tr("Whom to ask: {contact}.", contact=asked.removesuffix(".")))
    page.paragraph(
        tr(
            "You do not agree? Tell {contact} your reference and what is wrong. How this round was "
            "decided is on file.",
            contact=asked.removesuffix("."),
        )
    )
    for note in sender.notes if sender is not None and headed else ():
        page.paragraph(visible(note, None))


def _steps(page: Page, options: Sequence[OptionSpec], start: int, plan: GivenPlan, after: State) -> None:
    names = [option.with_name for option in plan.steps]
    together = [sorted(names.index(one.with_name) + 1 for one in group) for group in plan.together]
    for number, option in enumerate(options, start):
        page.point(f"{number}.", step_title(option, plan.state))
        for group in together:
            if number == group[0]:
                steps = ", ".join(map(str, group))
                later = group[0] <= plan.today < group[-1]
                told = tr("When your things are there, only together: steps {steps}.", steps=steps)
                page.paragraph(told if later else tr("Only together: steps {steps}.", steps=steps), 3)
        dangers = [one for one in option.fix.cautions if not one.body_sign]
        page.points(said(dangers, option, after, given=True), indent=3, mark="!")
        page.points(how_text(option, plan.state, after, given=True), indent=3)


def _signs(page: Page, options: Sequence[OptionSpec], plan: GivenPlan, after: State) -> None:
    """Signs of the body to mind, all in one place, each with the step it belongs to."""
    told = [
        f"{step_title(option, plan.state)}: {line}"
        for option in options
        for line in said([one for one in option.fix.cautions if one.body_sign], option, after)
    ]
    if told:
        page.heading(tr("What to mind"))
        page.paragraph(tr("Everybody who is given these steps is told this:"))
        page.points(told)


def _answer(plan: GivenPlan, waiting: Waiting | None, shared: FundShared, had: bool) -> str:
    if waiting is None and not plan.bill.lines:
        raise DefectError(f"{plan.id} is given nothing, and nothing says why")
    if waiting is None:
        told = tr("Good news: the fund gives you things for your workplace.")
        if had:
            told = tr("Good news: the fund gives you more things for your workplace.")
        return told
    if waiting.why == "no_help":
        told = not_this_time(waiting, shared)
    else:
        told = tr("We could not help you with things this time.")
        if had:
            told = tr("We could not help you with more things this time.")
        told += " " + not_this_time(waiting, shared)
        told += " " + tr("We look again in the next round; you need not ask again.")
    if plan.options:
        told += " " + tr("But you can make your workplace better today.")
    return told


def _had_before(shared: FundShared, name: str, catalog: Catalog) -> list[str]:
    """Things that somebody has from earlier rounds, with their sizes."""
    had = shared.given.had.get(name)
    if had is None:
        return []
    things = [item_title(item, catalog) for item, units in had.owned if units > 0]
    sized = [f"{item_title(item, catalog)}, {size}" for item, size, units in had.sized if units > 0]
    return [*things, *sized]


def _things(page: Page, shared: FundShared, name: str, catalog: Catalog) -> None:
    plan = shared.plans[name]
    if not plan.bill.lines:
        return
    units = {gift.item: gift.units for gift in shared.handed.gifts if gift.id == name}
    page.heading(tr("You get"))
    for line in plan.bill.lines:
        packs, item = trn("{count} pack", "{count} packs", line.packs), plain_item(line.item)
        if item in catalog.items and catalog.items[item].shared and units.get(item):
            # others may take from the same pack: what is meant for this person is said alone
            packs = f"{units[item]} {unit_text(catalog.items[item].unit)}"
        parts = [item_title(line.item, catalog), *sizes_needed(plan, line.item), packs]
        page.point("-", ", ".join(parts))
    if lacking := room_lacking(plan):
        page.paragraph(crowded_text(lacking))


def room_lacking(plan: GivenPlan) -> str:
    """That the desk may have no room for something once things are bought for it; else empty."""
    return crowded_out(plan.state, plan.state_after) if plan.bill.lines else ""


def sizes_needed(plan: GivenPlan, item: str) -> list[str]:
    """Sizes in which a person needs a thing that is bought for them, as the steps name them."""
    return [
        size_text(option)
        for option in plan.options
        if option.fix.kind == "bought" and option.size is not None and item in option.use
    ]


def size_words(plans: Iterable[GivenPlan]) -> dict[tuple[str, str], str]:
    """Sizes of things as people read them, by item and by the size as it stands in tables."""
    found: dict[tuple[str, str], str] = {}
    for plan in plans:
        for option in plan.options:
            if option.size is None:
                continue
            for item in option.use:
                key = plain_item(item), number_text(option.size)
                found.setdefault(key, size_text(option))
    return found


def still_amiss(shared: FundShared, name: str) -> list[str]:
    """What stays amiss with somebody's workplace though everything given is there, and what would suit.

    Where people are few, also why what is bought for a hard seat is not given.
    """
    after = shared.plans[name].state_after
    # the one place of an applicant has no name of its own
    here = tr("the workplace")
    lacks = [replace(lack, place=here) for lack in lacks_of(after)]
    return [
        *fit_lines(lacks),
        *mismatch_lines(replace(one, place=here) for one in mismatches_in(after)),
        *map(_why_not, shared.not_padded.get(name, ())),
    ]


def write_still_amiss(page: Page, shared: FundShared, most: int) -> None:
    """Tell whoever shares the fund of so many people what stays amiss, and what money is left for it."""
    found = [(one.id, still_amiss(shared, one.id)) for one in shared.applicants]
    found = [(name, lines) for name, lines in found if lines]
    if not found:
        return
    page.heading(tr("What nothing given in this round puts right"))
    for name, lines in found[:most]:
        page.point("-", f"{name}: {' '.join(lines)}")
    if len(found) > most:
        page.point("-", tr("{count} more in people.csv.", count=len(found) - most))
    if left := shared.wishes.fund - shared.spent:
        told = tr(
            "What would suit here and is not on offer, as another seat or table, can be asked for elsewhere: "
            "{left} of the fund is left.",
            left=money_text(left, shared.currency),
        )
        page.paragraph(told)


def _why_not(one: NotPadded) -> str:
    thing = tr(one.fix.title)
    if one.against:
        return tr("{thing} is not given: {reason}.", thing=thing, reason=one.against.removesuffix("."))
    return tr("{thing} would go there; it was weighed against all else.", thing=thing)


def _why(plan: GivenPlan) -> str:
    if not plan.options:
        return tr("We found nothing that is free and takes more strain off your workplace.")
    told = tr(
        "We count how long in a day parts of your body are bent, stretched or pressed more than is good."
    )
    before, less = plan.strain_before, plan.strain_before - plan.strain_after
    if before:
        told += " " + tr(
            "What stands in this letter takes about {percent} % of that off.",
            percent=(200 * less + before) // (2 * before),
        )
        free = plan.strain_before - plan.strain_free
        if plan.bill.lines and free:
            told += " " + tr(
                "Without the things you get it would be about {percent} %.",
                percent=(200 * free + before) // (2 * before),
            )
    told += " " + tr("It takes about {time} of your time.", time=minutes_text(plan.minutes))
    return told + " " + tr("This is load taken off your body. It is no promise against pain or injury.")


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
    return whole_page(
        "handout.html",
        template_text("handout.css"),
        title=title,
        sheets=sheets,
        sender=sender,
        words={"date": tr("Date:"), "reference": tr("Reference:"), "contact": tr("Contact:")},
    )
