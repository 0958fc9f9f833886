"""The assessor's part of a page: figures, ranges, sources, proof, and what was estimated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from deskmend.intake.catalog import Catalog
from deskmend.messages import tr
from deskmend.planning.plan import Plan
from deskmend.planning.reasons import QuantityReading, readings
from deskmend.report.cautions import add_cautions
from deskmend.report.page_blocks import Blocks
from deskmend.report.plan_text import add_assessor_notes, add_proof
from deskmend.report.scores_text import add_plan_scores
from deskmend.report.words import quantity_words, range_words, source_place, source_title, value_words

__all__ = ["AssessorView", "QuantityRow", "assessor_view"]

Key = tuple[str, str, str, str]


@dataclass(frozen=True)
class QuantityRow:
    """One quantity with its range.

    Attributes
    ----------
    what, now, then, wanted, sources : str
        In words.
    outside_now, outside_then : bool
        Whether it lies outside its range.
    estimated : bool
        Rests on an estimate or an assumption.
    """

    what: str
    now: str
    then: str
    wanted: str
    sources: str
    outside_now: bool
    outside_then: bool
    estimated: bool


@dataclass(frozen=True)
class AssessorView:
    """The assessor's part for one plan.

    Attributes
    ----------
    outside, others : tuple of QuantityRow
        Quantities outside their range now or then, the worst first; the rest.
    sources : tuple of (str, str)
        Key and description of every source of a range.
    scores, proof, notes, cautions : Markup
        Blocks.
    """

    outside: tuple[QuantityRow, ...]
    others: tuple[QuantityRow, ...]
    sources: tuple[tuple[str, str], ...]
    scores: Markup
    proof: Markup
    notes: Markup
    cautions: Markup


def assessor_view(plan: Plan, catalog: Catalog) -> AssessorView:
    """Put one plan's figures into tables and blocks.

    Parameters
    ----------
    plan : Plan
        The plan.
    catalog : Catalog
        For titles of sources.
    """
    before = {_key(one): one for one in readings(plan.state_before)}
    after = {_key(one): one for one in readings(plan.state_after)}
    keys = list(dict.fromkeys([*before, *after]))
    keys.sort(key=lambda key: -max(_severity(before, key), _severity(after, key)))
    many = len(plan.state_after.tasks) > 1
    rows = [(key, _row(before.get(key), after.get(key), many)) for key in keys]
    both = [*before.values(), *after.values()]
    parts = {name: Blocks(headed=name != "notes") for name in ("scores", "proof", "notes", "cautions")}
    add_plan_scores(parts["scores"], plan)
    add_proof(parts["proof"], plan)
    add_assessor_notes(parts["notes"], plan, catalog)
    add_cautions(parts["cautions"])
    return AssessorView(
        tuple(row for _, row in rows if row.outside_now or row.outside_then),
        tuple(row for _, row in rows if not row.outside_now and not row.outside_then),
        tuple(_sources(both, catalog)),
        *(part.html() for part in parts.values()),
    )


def _key(one: QuantityReading) -> Key:
    return one.task, one.name, one.of, one.mode


def _severity(of: Mapping[Key, QuantityReading], key: Key) -> float:
    return of[key].severity if key in of else 0.0


def _row(now: QuantityReading | None, then: QuantityReading | None, many: bool) -> QuantityRow:
    one = now or then
    if one is None:
        raise ValueError("a quantity of neither state")
    what = quantity_words(one.name, one.of) + (f" ({one.task})" if many else "")
    if one.mode == "stand":
        what += f", {tr('standing')}"
    return QuantityRow(
        what,
        _value(now),
        _value(then),
        range_words(one.low, one.high, one.unit, one.name),
        ", ".join(one.source.split()),
        now is not None and now.severity > 0,
        then is not None and then.severity > 0,
        any(reading is not None and reading.estimated for reading in (now, then)),
    )


def _value(one: QuantityReading | None) -> str:
    return "" if one is None else value_words(one.value, one.unit, one.name)


def _sources(found: Sequence[QuantityReading], catalog: Catalog) -> list[tuple[str, str]]:
    out = []
    for key in sorted({key for one in found for key in one.source.split()}):
        known = catalog.sources[key] if key in catalog.sources else None
        if known is None:
            out.append((key, ""))
            continue
        place = f". {source_place(known)}" if known.place else ""
        out.append((key, f"{source_title(known)}{place} ({tr(known.status)})"))
    return out
