"""A catalog: all fixes by decision, or one in full with what stands behind it; as text and as a document."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, cast

from deskmend.intake.catalog import Catalog, KeptUpHere
from deskmend.intake.catalog_records import (
    Advice,
    Conditional,
    Effect,
    EvidenceNote,
    Fix,
    KeptUp,
    Material,
    Need,
    Sentence,
    Size,
    Source,
)
from deskmend.intake.prices import PriceTable
from deskmend.language import current_unit, shown_length, shown_number, tr, trn
from deskmend.report.cuts import cut_formulas, formulas_json
from deskmend.report.documents import money_json, quantity_json
from deskmend.report.layout import Page
from deskmend.report.words import decimal_text, minutes_text, money_text, tool_word, unit_text

if TYPE_CHECKING:
    from deskmend.report.case_documents import Evidence
    from deskmend.report.other_documents import (
        CatalogDocument,
        ConditionRecord,
        EffectRecord,
        FixRecord,
        MaterialRecord,
        NeedRecord,
        SizeRecord,
    )

__all__ = [
    "GRADES",
    "advice_text",
    "best_grade",
    "catalog_document",
    "catalog_text",
    "evidence_json",
    "evidence_line",
    "finding_text",
    "fix_text",
    "kept_up_text",
    "source_text",
]

GRADES = {
    "A": "trial or review",
    "B": "laboratory",
    "C": "guidance or weak study",
    "D": "no study",
}
TESTED = {
    "direct": "this very thing",
    "near": "a thing very like it",
    "function": "another thing that does the same",
    "none": "not tested",
}
VERDICTS = {
    "helps": "it helped",
    "no_benefit_shown": "no benefit shown",
    "was_placebo": "used as the dummy treatment",
    "mixed": "results mixed",
}


def _helping(notes: Sequence[EvidenceNote]) -> list[EvidenceNote]:
    return [note for note in notes if note.verdict == "helps"]


def best_grade(notes: Sequence[EvidenceNote]) -> str:
    """Grade of the strongest finding that a fix helps; ``-`` where there is none."""
    return min((note.grade for note in _helping(notes)), default="-")


def evidence_line(notes: Sequence[EvidenceNote]) -> str:
    """What stands behind a fix: the strongest finding for it, and those that speak against it."""
    if not notes:
        return tr("No study.")
    helps = _helping(notes)
    parts = []
    if helps:
        best = min(helps, key=lambda note: note.grade)
        parts.append(
            trn(
                "{count} finding for it of grade {grade} ({kind}; {tested})",
                "{count} findings for it, the strongest of grade {grade} ({kind}; {tested})",
                len(helps),
                grade=best.grade,
                kind=tr(GRADES[best.grade]),
                tested=tr(TESTED[best.tested]),
            )
        )
    else:
        parts.append(tr("no finding that it helps"))
    for verdict, words in VERDICTS.items():
        grades = sorted(note.grade for note in notes if note.verdict == verdict)
        if grades and verdict != "helps":
            parts.append(
                tr(
                    "{what} in {number} of grade {grades}",
                    what=tr(words),
                    number=len(grades),
                    grades=", ".join(dict.fromkeys(grades)),
                )
            )
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def finding_text(note: EvidenceNote, catalog: Catalog) -> str:
    """One finding in full, with its source."""
    people = tr(", {number} people", number=note.n) if note.n is not None else ""
    worth = tr(
        "Grade {grade} ({kind}); tested: {tested}; {verdict}.",
        grade=note.grade,
        kind=tr(GRADES[note.grade]),
        tested=tr(TESTED[note.tested]),
        verdict=tr(VERDICTS[note.verdict]),
    )
    return f"{tr(note.finding)} {tr(catalog.sources[note.source].cited)}{people}. {worth}"


def evidence_json(notes: Sequence[EvidenceNote], catalog: Catalog) -> list[Evidence]:
    """Findings with the titles of their sources, the year within them."""
    return [
        {
            "source": note.source,
            "title": tr(catalog.sources[note.source].cited),
            "where": catalog.sources[note.source].place or None,
            "n": note.n,
            "finding": tr(note.finding),
            "grade": note.grade,
            "tested": note.tested,
            "verdict": note.verdict,
        }
        for note in notes
    ]


def source_text(source: Source) -> str:
    """Title, place and status of a source.

    Published titles stay as they are, a description of ours is translated; so are our remarks on a place,
    which stand between semicolons and hold no number.
    """
    parts = source.place.split("; ")
    place = "; ".join(part if any(c.isdigit() for c in part) else tr(part) for part in parts)
    return f"{tr(source.cited)}{f'. {place}' if source.place else ''} ({tr(source.status)})"


def kept_up_text(kept: KeptUp) -> str:
    """On what part of the days a habit is counted, and why."""
    days = shown_number(f"{100 * kept.share:.0f}")
    if isinstance(kept, KeptUpHere):
        return tr(
            "Counted as kept on {days} of 100 days: here {kept} of {cases} people who did it still do, and "
            "what was known before counts as {weight} more. {why}",
            days=days,
            kept=kept.kept,
            cases=kept.cases,
            weight=shown_number(f"{kept.weight:.0f}"),
            why=tr(kept.why),
        )
    return tr("Counted as kept on {days} of 100 days. {why}", days=days, why=tr(kept.why))


FIX_KINDS = {
    "rearranged": "set or move what is there",
    "habit": "a habit",
    "made": "made by hand",
    "bought": "bought",
}
SKILLS = {1: "anyone", 2: "some practice", 3: "confident with tools"}
SCOPES = {
    "person": "one a person",
    "device": "one for the devices",
    "place": "one a place",
    "task": "one a task",
}
LEAVE_OF = {"owner": "of the owner", "employer": "of the employer"}
CHANGES = {
    "set": "{field} becomes {value}",
    "add": "{field} grows by {value}",
    "at_most": "{field} becomes at most {value}",
    "at_least": "{field} becomes at least {value}",
}


def catalog_document(catalog: Catalog, fixes: Iterable[Fix], prices: PriceTable | None) -> CatalogDocument:
    """Fixes of a catalog: sizes in their unit with three decimals; with prices what materials cost a pack."""
    return {
        "format": "deskmend-catalog/1",
        "currency": None if prices is None else prices.currency,
        "fixes": [_fix_json(fix, catalog, prices) for fix in fixes],
        "advice": [
            {
                "id": one.id,
                "title": tr(one.title),
                "how": [tr(line.say) for line in one.how],
                "cautions": [tr(line.say) for line in one.cautions],
                "conditions": [_condition_json(key, line) for key, line in one.sentences if line.conditions],
                "evidence": evidence_json(one.evidence, catalog),
            }
            for one in catalog.advice
        ],
    }


def _fix_json(fix: Fix, catalog: Catalog, prices: PriceTable | None) -> FixRecord:
    return {
        "id": fix.id,
        "title": tr(fix.title),
        "kind": fix.kind,
        "decision": fix.decision,
        "stage": fix.stage,
        "scope": fix.scope,
        "carried": fix.carried,
        "size": None if fix.size is None else _size_json(fix.size),
        "effects": [_effect_json(effect) for effect in fix.effects],
        "materials": [_material_json(one, catalog, prices) for one in fix.materials],
        "cuts": formulas_json(fix),
        "tools": list(fix.tools),
        "minutes": fix.minutes,
        "skill": fix.skill,
        "needs": [_need_json(need) for need in fix.needs],
        "conflicts": list(fix.conflicts),
        "not_for": [
            {
                "sign": caveat.sign,
                "when": None if caveat.when is None else str(caveat.when),
                "why": tr(caveat.why),
            }
            for caveat in fix.not_for
        ],
        "alters": fix.alters,
        "leave": fix.leave,
        "reversible": fix.reversible,
        "lifetime_months": fix.lifetime_months,
        "how": [tr(line.say) for line in fix.how],
        "checks": list(fix.checks),
        "right": _told(fix.right),
        "upkeep": _told(fix.upkeep),
        "side_effects": [tr(line.say) for line in fix.side_effects],
        "cautions": [tr(line.say) for line in fix.cautions],
        "conditions": [_condition_json(key, line) for key, line in fix.sentences if line.conditions],
        "watch": [
            {
                "happens": tr(w.happens),
                "then": tr(w.then),
                "item": w.item,
                "quantity": w.quantity,
                "when": [str(one) for one in w.when],
                "unless": [str(one) for one in w.unless],
            }
            for w in fix.watch
        ],
        "recheck": _told(fix.recheck or fix.right),
        "often_dropped": None
        if fix.often_dropped is None
        else {
            "why": tr(fix.often_dropped.why),
            "source": fix.often_dropped.source,
            "instead": tr(fix.often_dropped.instead),
            "fix": fix.often_dropped.fix,
        },
        "kept_up": None
        if fix.kept_up is None
        else {
            "share": fix.kept_up.share,
            "sources": list(fix.kept_up.sources),
            "why": tr(fix.kept_up.why),
            "status": fix.kept_up.status,
        },
        "on_request": fix.on_request,
        "evidence": evidence_json(fix.evidence, catalog),
    }


def _effect_json(effect: Effect) -> EffectRecord:
    told = {"change": effect.change, effect.operation: effect.value, "times": effect.times}
    return cast("EffectRecord", told)


def _told(one: Sentence | None) -> str | None:
    return None if one is None else tr(one.say)


def _condition_json(key: str, one: Conditional) -> ConditionRecord:
    return {
        "of": key,
        "say": tr(one.say) if isinstance(one, Sentence) else None,
        "when": [str(condition) for condition in one.when],
        "unless": [str(condition) for condition in one.unless],
    }


def _size_json(size: Size) -> SizeRecord:
    return {
        "unit": size.unit,
        "low": quantity_json(size.low),
        "high": quantity_json(size.high),
        "step": quantity_json(size.step),
        "pieces": size.pieces,
        "words": list(size.words),
        "of": size.of,
    }


def _need_json(need: Need) -> NeedRecord:
    return {
        "when": [str(one) for one in need.when],
        "all": [str(one) for one in need.all],
        "any": [str(one) for one in need.any],
        "why": tr(need.why),
    }


def _material_json(material: Material, catalog: Catalog, prices: PriceTable | None) -> MaterialRecord:
    item = catalog.items[material.item]
    out: MaterialRecord = {
        "item": item.id,
        "title": tr(item.title),
        "quantity": material.quantity,
        "unit": item.unit,
    }
    if material.from_size is not None:
        out["from_size"] = material.from_size
    if material.instead is not None:
        out["instead"] = {"item": material.instead, "quantity": material.instead_quantity}
    if prices is not None:
        priced = prices.get(item.id)
        out["pack"] = None if priced is None else priced.pack
        out["price"] = None if priced is None else money_json(priced.price, prices.currency)
    return out


def catalog_text(catalog: Catalog) -> str:
    """All fixes by decision, a line each."""
    page = Page()
    by_decision: dict[str, list[Fix]] = {}
    for fix in catalog.fixes:
        by_decision.setdefault(fix.decision, []).append(fix)
    page.paragraph(
        tr(
            "{fixes} fixes for {decisions} decisions. Of one decision, one is taken or none.",
            fixes=len(catalog.fixes),
            decisions=len(by_decision),
        )
    )
    for decision, fixes in by_decision.items():
        page.heading(tr(decision.replace("_", " ")))
        rows = [[fix.id, best_grade(fix.evidence), minutes_text(fix.minutes), tr(fix.title)] for fix in fixes]
        page.table(rows, right=(2,))
    page.blank()
    grades = ", ".join(f"{grade} {tr(text)}" for grade, text in GRADES.items())
    page.paragraph(
        tr("Letters: grade of the strongest finding that the fix helps ({grades}; - none).", grades=grades)
    )
    page.paragraph(tr("Show one in full: {command}", command="deskmend catalog FIX"))
    if catalog.advice:
        page.heading(tr("only informs, never counted"))
        page.table([[one.id, best_grade(one.evidence), tr(one.title)] for one in catalog.advice])
    return page.text()


def fix_text(fix: Fix, catalog: Catalog, prices: PriceTable | None) -> str:
    """One fix in full, with all its evidence; with prices what materials cost a pack."""
    page = Page()
    page.paragraph(f"{fix.id}: {tr(fix.title)}")
    page.blank()
    page.table(_facts(fix))
    _section(page, tr("It takes"), [_material_text(one, catalog, prices) for one in fix.materials])
    _section(page, tr("To cut"), cut_formulas(fix, catalog))
    _section(page, tr("It changes"), [_effect_text(effect) for effect in fix.effects])
    _section(page, tr("Only where"), [_need_text(need) for need in fix.needs])
    _section(page, tr("Not together with"), fix.conflicts)
    signs = {sign.id: tr(sign.sign) for sign in catalog.signs}
    caveats = [f"{signs.get(c.sign or '', str(c.when)).rstrip('.')}: {tr(c.why)}" for c in fix.not_for]
    _section(page, tr("Not for"), caveats)
    if fix.how:
        page.heading(tr("How"))
        page.numbered([_any_size(line) for line in _said_text(*fix.how)])
    measured = [tr("What it has to measure hangs on the workplace: a plan says it.")] if fix.checks else []
    _section(page, tr("Right when"), [*measured, *_said_text(fix.right)])
    _section(page, tr("Mind"), _said_text(*fix.cautions))
    _section(page, tr("Good to know"), _said_text(*fix.side_effects))
    _section(page, tr("Upkeep"), _said_text(fix.upkeep))
    _section(page, tr("After two weeks"), _said_text(fix.recheck))
    if fix.kept_up is not None:
        _section(page, tr("How long it is kept up"), [kept_up_text(fix.kept_up)])
    if fix.often_dropped is not None:
        dropped = fix.often_dropped
        _section(page, tr("If you give it up"), [f"{tr(dropped.why)} {tr(dropped.instead)}"])
    happens = [" ".join([tr(watch.happens), tr(watch.then), *_conditions_text(watch)]) for watch in fix.watch]
    _section(page, tr("Only if it happens"), happens)
    _evidence(page, fix.evidence, catalog)
    return page.text()


def _said_text(*sentences: Sentence | None) -> list[str]:
    """Sentences of the catalog, each with its conditions behind it; what is missing is left out."""
    return [" ".join([_any_length(one), *_conditions_text(one)]) for one in sentences if one is not None]


def _any_length(one: Sentence) -> str:
    told = tr(one.say)
    return told if one.length is None else told.replace("{length}", f"{one.length} {unit_text('mm')}")


def _conditions_text(one: Conditional) -> list[str]:
    """Where something is said; empty where it is said everywhere."""
    both, either = (tr(" and ").join(map(str, one.when)), tr(" or ").join(map(str, one.unless)))
    out = [tr("(only when {rule})", rule=both)] if both else []
    return out + ([tr("(not when {rule})", rule=either)] if either else [])


def _facts(fix: Fix) -> list[list[str]]:
    """What kind of fix it is, in two columns."""
    where = tr("carried from place to place") if fix.carried else tr(SCOPES[fix.scope])
    facts = [[tr("decision"), fix.decision], [tr("kind"), f"{tr(FIX_KINDS[fix.kind])}, {where}"]]
    if fix.size is not None:
        facts.append([tr("size"), _size_text(fix.size)])
    facts.append([tr("work"), f"{minutes_text(fix.minutes)}, {tr(SKILLS[fix.skill])}"])
    if fix.tools:
        facts.append([tr("tools"), ", ".join(tool_word(tool) for tool in fix.tools)])
    if fix.lifetime_months is not None:
        facts.append([tr("lasts"), tr("about {number} months", number=fix.lifetime_months)])
    if fix.alters:
        facts.append([tr("alters furniture"), tr("yes")])
    if fix.leave != "none":
        facts.append([tr("leave needed"), tr(LEAVE_OF[fix.leave])])
    if fix.on_request:
        facts.append([tr("planned"), tr("only where asked for")])
    facts.append([tr("comes off again"), tr("yes") if fix.reversible else tr("no")])
    return facts


def advice_text(one: Advice, catalog: Catalog) -> str:
    """What only informs, with all its evidence."""
    page = Page()
    page.paragraph(f"{one.id}: {tr(one.title)}")
    page.paragraph(" ".join([tr("It only informs: no plan counts it."), *_conditions_text(one)]))
    page.heading(tr("How"))
    page.numbered(_said_text(*one.how))
    _section(page, tr("Mind"), _said_text(*one.cautions))
    _evidence(page, one.evidence, catalog)
    return page.text()


def _section(page: Page, title: str, texts: Sequence[str]) -> None:
    if texts:
        page.heading(title)
        page.points([_any_size(text) for text in texts])


def _any_size(text: str) -> str:
    """Text of a fix whose size nobody has chosen yet."""
    size = tr("SIZE")
    return text.replace("{size} mm", f"{size} {current_unit()}").replace("{size}", size)


def _size_text(size: Size) -> str:
    unit = unit_text(size.unit)
    if size.words:
        return ", ".join(tr(word.replace("_", " ")) for word in size.words)
    if size.of is not None:
        return tr("what the case offers as {what}", what=size.of)
    low, high, step = (_number(end or 0.0, size.unit) for end in (size.low, size.high, size.step))
    ends = f"{tr('{low} to {high}', low=low, high=high)} {unit}".strip()
    if size.pieces is not None:
        return tr("{ends}, what owned pieces of {item} add up to", ends=ends, item=size.pieces)
    return tr("{ends} in steps of {step}", ends=ends, step=step)


def _number(value: float, unit: str) -> str:
    """Size without its unit; only a reader's own unit takes decimals away from it."""
    if unit == "mm" and current_unit() != "mm":
        return shown_length(value).removesuffix(f" {current_unit()}")
    return decimal_text(value)


def _material_text(material: Material, catalog: Catalog, prices: PriceTable | None) -> str:
    item = catalog.items[material.item]
    if material.quantity is None:
        many = tr("the pieces chosen")
    elif item.unit == "cm" and current_unit() != "mm":
        many = shown_length(material.quantity * 10)
    else:
        many = f"{material.quantity} {tr(item.unit)}"
    text = f"{tr(item.title)} ({item.id}), {many}"
    if material.from_size is not None:
        text = tr("{piece}, from size {size} on", piece=text, size=material.from_size)
    if material.instead is not None:
        text += "; " + tr(
            "what you have does as well: {thing}", thing=tr(catalog.items[material.instead].title)
        )
    if prices is None:
        return text
    priced = prices.get(item.id)
    if priced is None:
        return f"{text}; {tr('no price')}"
    cost = money_text(priced.price, prices.currency)
    return f"{text}; {tr('a pack of {pack} costs {cost}', pack=priced.pack, cost=cost)}"


def _effect_text(effect: Effect) -> str:
    value = decimal_text(effect.value) if isinstance(effect.value, float) else effect.value.replace("_", " ")
    if value == "size":
        times = decimal_text(effect.times)
        value = tr("the size") if effect.times == 1.0 else tr("{number} times the size", number=times)
    return tr(CHANGES[effect.operation], field=effect.change, value=value)


def _need_text(need: Need) -> str:
    both = tr(" and ")
    rule = both.join(str(one) for one in need.all)
    either = tr(" or ").join(str(one) for one in need.any)
    rule += (f"{both}({either})" if rule else either) if either else ""
    when = tr(", when {rule}", rule=both.join(str(one) for one in need.when)) if need.when else ""
    return f"{rule}{when}: {tr(need.why)}"


def _evidence(page: Page, notes: Sequence[EvidenceNote], catalog: Catalog) -> None:
    page.heading(tr("What stands behind it"))
    if not notes:
        page.paragraph(tr("No study."))
    page.points([finding_text(note, catalog) for note in notes])
