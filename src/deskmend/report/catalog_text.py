"""A catalog as plain text: all fixes by decision, or one in full."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Advice, EvidenceNote, Fix, Need, Size
from deskmend.intake.price_table import PriceTable
from deskmend.report.layout import Page
from deskmend.report.numbers import minutes_text, money_text, unit_text
from deskmend.report.words import GRADES, KINDS, TESTED, VERDICTS
from deskmend.units import format_number

__all__ = ["advice_text", "catalog_text", "fix_text"]

SKILLS = {1: "anyone", 2: "some practice", 3: "confident with tools"}
SCOPES = {
    "person": "one a person",
    "device": "one for the devices",
    "place": "one a place",
    "task": "one a task",
}


def catalog_text(catalog: Catalog) -> str:
    """List all fixes by decision.

    Parameters
    ----------
    catalog : Catalog
        The catalog.

    Returns
    -------
    str
        At most 100 characters a line.
    """
    page = Page()
    by_decision: dict[str, list[Fix]] = {}
    for fix in catalog.fixes:
        by_decision.setdefault(fix.decision, []).append(fix)
    page.paragraph(
        f"{len(catalog.fixes)} fixes for {len(by_decision)} decisions. Of one decision, one is taken or none."
    )
    for decision, fixes in by_decision.items():
        page.heading(decision.replace("_", " "))
        page.table([[fix.id, _grade(fix), minutes_text(fix.minutes), fix.title] for fix in fixes], right=(2,))
    page.blank()
    grades = ", ".join(f"{grade} {text}" for grade, text in GRADES.items())
    page.paragraph(f"Letters: grade of the strongest finding that the fix helps ({grades}; - none).")
    page.paragraph("Show one in full: deskmend catalog FIX")
    if catalog.advice:
        page.heading("only informs, never counted")
        page.table([[one.id, _grade(one), one.title] for one in catalog.advice])
    return page.text()


def _grade(fix: Fix | Advice) -> str:
    return min((note.grade for note in fix.evidence if note.verdict == "helps"), default="-")


def fix_text(fix: Fix, catalog: Catalog, prices: PriceTable | None) -> str:
    """Show one fix in full, with all its evidence.

    Parameters
    ----------
    fix : Fix
        The fix.
    catalog : Catalog
        For items, signs and sources.
    prices : PriceTable or None
        To tell what materials cost a pack.

    Returns
    -------
    str
        At most 100 characters a line.
    """
    page = Page()
    page.paragraph(f"{fix.id}: {fix.title}")
    page.blank()
    made = KINDS[fix.kind] + (", carried from place to place" if fix.carried else f", {SCOPES[fix.scope]}")
    facts = [["decision", fix.decision], ["kind", made]]
    facts += [["size", _size(fix.size)]] if fix.size is not None else []
    facts += [["work", f"{minutes_text(fix.minutes)}, {SKILLS[fix.skill]}"]]
    facts += [["tools", ", ".join(tool.replace("_", " ") for tool in fix.tools)]] if fix.tools else []
    facts += [["lasts", f"about {fix.lifetime_months} months"]] if fix.lifetime_months is not None else []
    facts += [["alters furniture", "yes"]] if fix.alters else []
    facts += [["leave needed", f"of the {fix.leave}"]] if fix.leave != "none" else []
    facts += [["planned", "only where asked for"]] if fix.on_request else []
    facts += [["comes off again", "yes" if fix.reversible else "no"]]
    page.table(facts)
    _section(
        page, "It takes", [_material(fix, number, catalog, prices) for number in range(len(fix.materials))]
    )
    _section(page, "It changes", [_effect(fix, number) for number in range(len(fix.effects))])
    _section(page, "Only where", [_need(need) for need in fix.needs])
    _section(page, "Not together with", fix.conflicts)
    signs = {sign.id: sign.sign for sign in catalog.signs}
    _section(page, "Not for", [f"{signs.get(c.sign or '', str(c.when))}: {c.why}" for c in fix.not_for])
    if fix.how:
        page.heading("How")
        for number, line in enumerate(fix.how, start=1):
            page.point(f"{number}.", line.replace("{size}", "SIZE"))
    _section(page, "Right when", [fix.right] if fix.right is not None else [])
    _section(page, "Mind", fix.cautions)
    _section(page, "Good to know", fix.side_effects)
    _section(page, "Upkeep", [fix.upkeep] if fix.upkeep is not None else [])
    _section(page, "After two weeks", [fix.recheck] if fix.recheck is not None else [])
    if fix.often_dropped is not None:
        _section(page, "If you give it up", [f"{fix.often_dropped.why} {fix.often_dropped.instead}"])
    _section(page, "Only if it happens", [f"{watch.happens} {watch.then}" for watch in fix.watch])
    _evidence(page, fix.evidence, catalog)
    return page.text()


def advice_text(one: Advice, catalog: Catalog) -> str:
    """Show what only informs, with all its evidence.

    Parameters
    ----------
    one : Advice
        The advice.
    catalog : Catalog
        For sources.

    Returns
    -------
    str
        At most 100 characters a line.
    """
    page = Page()
    page.paragraph(f"{one.id}: {one.title}")
    page.paragraph("It only informs: no plan counts it.")
    page.heading("How")
    for number, line in enumerate(one.how, start=1):
        page.point(f"{number}.", line)
    _section(page, "Mind", one.cautions)
    _evidence(page, one.evidence, catalog)
    return page.text()


def _section(page: Page, title: str, texts: Sequence[str]) -> None:
    if texts:
        page.heading(title)
        page.points([text.replace("{size}", "SIZE") for text in texts])


def _size(size: Size) -> str:
    unit = unit_text(size.unit)
    if size.words:
        return ", ".join(word.replace("_", " ") for word in size.words)
    if size.of is not None:
        return f"what the case offers as {size.of}"
    ends = f"{format_number(size.low or 0.0)} to {format_number(size.high or 0.0)} {unit}".strip()
    if size.pieces is not None:
        return f"{ends}, what owned pieces of {size.pieces} add up to"
    return f"{ends} in steps of {format_number(size.step or 0.0)}"


def _material(fix: Fix, number: int, catalog: Catalog, prices: PriceTable | None) -> str:
    material = fix.materials[number]
    item = catalog.items[material.item]
    many = "the pieces chosen" if material.quantity is None else f"{material.quantity} {item.unit}"
    text = f"{item.title} ({item.id}), {many}"
    if prices is None:
        return text
    priced = prices.get(item.id)
    if priced is None:
        return f"{text}; no price"
    return f"{text}; a pack of {priced.pack} costs {money_text(priced.price, prices.currency)}"


def _effect(fix: Fix, number: int) -> str:
    effect = fix.effects[number]
    words = {
        "set": "becomes",
        "add": "grows by",
        "at_most": "becomes at most",
        "at_least": "becomes at least",
    }
    value = format_number(effect.value) if isinstance(effect.value, float) else effect.value.replace("_", " ")
    if value == "size":
        value = "the size" if effect.times == 1.0 else f"{format_number(effect.times)} times the size"
    return f"{effect.change} {words[effect.operation]} {value}"


def _need(need: Need) -> str:
    rule = " and ".join(str(one) for one in need.all)
    either = " or ".join(str(one) for one in need.any)
    rule += (f" and ({either})" if rule else either) if either else ""
    when = f", when {' and '.join(str(one) for one in need.when)}" if need.when else ""
    return f"{rule}{when}: {need.why}"


def _evidence(page: Page, notes: Sequence[EvidenceNote], catalog: Catalog) -> None:
    page.heading("What stands behind it")
    if not notes:
        page.paragraph("No study.")
    for note in notes:
        source = catalog.sources[note.source]
        people = f", {note.n} people" if note.n is not None else ""
        page.point(
            "-",
            f"{note.finding} {source.title}{people}. Grade {note.grade} ({GRADES[note.grade]}); tested: "
            f"{TESTED[note.tested]}; {VERDICTS[note.verdict]}.",
        )
