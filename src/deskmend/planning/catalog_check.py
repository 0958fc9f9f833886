"""Checking a catalog against the model: names it can resolve, sizes it can hold, rules that can be met.

Checking the cut lists of a catalog: names that can be resolved, sizes that can be sawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from deskmend.errors import Fault, did_you_mean
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Cut, Effect, Fix, Need, Predicate, Size
from deskmend.intake.cut_expressions import Expression
from deskmend.planning.bill import SIZE
from deskmend.planning.model.rules import holds
from deskmend.workstation.fields import FIELDS, Level, Value
from deskmend.workstation.graph import QUANTITIES

__all__ = ["check_catalog", "cut_faults"]

SHORTEST, LONGEST = 1.0, 5000.0
"""Sides of a piece that a cut list may give [mm] (judgement)."""
_WITHIN: dict[str, tuple[Level, ...]] = {
    "person": ("person", "device"),
    "device": ("person", "device"),
    "place": ("person", "device", "place"),
    "task": ("person", "device", "place", "task"),
}
"""Levels whose fields are told for a fix of each scope."""


def cut_faults(fix: Fix) -> Iterator[tuple[str, str, str, str]]:
    """Find what in the cut list of a fix cannot be worked out.

    Parameters
    ----------
    fix : Fix
        The fix.

    Yields
    ------
    tuple of str
        Where, what was read, what is allowed, a hint.
    """
    for number, cut in enumerate(fix.cuts):
        where = f"cuts.{number}"
        if cut.from_size is not None and not _sizes(fix):
            yield f"{where}.from_size", str(cut.from_size), "only where the fix has sizes in numbers", ""
        for side in ("length", "width", "width_to", "thickness", "thickness_to"):
            one: Expression | None = getattr(cut, side)
            if one is not None:
                yield from _of_side(fix, cut, f"{where}.{side}", one)


def _of_side(fix: Fix, cut: Cut, where: str, one: Expression) -> Iterator[tuple[str, str, str, str]]:
    known = [name for name, field in FIELDS.items() if field.is_number and field.level in _WITHIN[fix.scope]]
    unknown = [name for name in one.names if name != SIZE and name not in known]
    for name in unknown:
        allowed = f"size, or a number of the model that a fix of scope {fix.scope} can ask for"
        yield where, name, allowed, did_you_mean(name, [SIZE, *known])
    if SIZE in one.names and not _sizes(fix):
        yield where, SIZE, "no size, since the fix has none in numbers", ""
    elif not unknown:
        yield from _out_of_hand(fix, cut, where, one)


def _out_of_hand(fix: Fix, cut: Cut, where: str, one: Expression) -> Iterator[tuple[str, str, str, str]]:
    """Sides that cannot be at an end of the sizes and fields they hang on."""
    ends: list[tuple[float, ...]] = []
    for name in one.names:
        if name == SIZE:
            ends.append(tuple(s for s in _sizes(fix) if cut.from_size is None or s >= cut.from_size))
        else:
            ends.append((FIELDS[name].low, FIELDS[name].high))
    for values in product(*ends):
        given = dict(zip(one.names, values, strict=True))
        value = one.value(given.__getitem__)
        if not (math.isfinite(value) and SHORTEST <= value <= LONGEST):
            at = ", ".join(f"{name} {number:g}" for name, number in given.items())
            allowed = f"{SHORTEST:g} to {LONGEST:g} mm for every size and field"
            yield where, f"{one} is {value:g} mm" + (f" at {at}" if at else ""), allowed, ""
            return


def _sizes(fix: Fix) -> tuple[float, ...]:
    """Smallest and largest size in numbers; none where it has words or what the case offers."""
    size = fix.size
    if size is None or size.low is None or size.high is None:
        return ()
    return (float(size.low), float(size.high))


SPECIAL = {"task.place": "places", "seat": "other_seats"}
"""Changes that are no fields, and the sizes they take."""


def check_catalog(catalog: Catalog) -> list[Fault]:
    """Find what in a catalog the model cannot use.

    Parameters
    ----------
    catalog : Catalog
        Checked for itself already.

    Returns
    -------
    list of Fault
        Unknown fields and quantities, words and sizes out of range, fixes of one
        decision with different scopes, needs that go round in a circle, fixes
        that change nothing or whose rules nothing can meet, made things without
        steps, cut lists that cannot be worked out, effects without evidence.
    """
    out: list[Fault] = []
    for fix in catalog.fixes:
        place = catalog.places[fix.id]
        for where, read, allowed, hint in _of_fix(fix):
            out.append(Fault(place.file, place.line, f"fixes.{fix.id}.{where}", read, allowed, hint))
    out.extend(_scopes(catalog))
    out.extend(_circles(catalog))
    return out


def _of_fix(fix: Fix) -> Iterator[tuple[str, str, str, str]]:
    for effect in fix.effects:
        yield from _of_effect(fix, effect)
    if not fix.effects:
        yield "effects", "none", "at least one; what only informs goes to advice.yaml", ""
    for need in fix.needs:
        for predicate in (*need.when, *need.all, *need.any):
            yield from _of_predicate("needs", predicate)
        yield from _self_defeating(fix, need)
    yield from _never(fix)
    for caveat in fix.not_for:
        if caveat.when is not None:
            yield from _of_predicate("not_for", caveat.when)
        if (caveat.sign is None) == (caveat.when is None):
            yield "not_for", caveat.why, "either sign or when", ""
    yield from cut_faults(fix)
    if fix.kind in ("made", "bought") and not fix.materials:
        yield "materials", "none", f"at least one, since it is {fix.kind}", ""
    if fix.kind in ("rearranged", "habit") and fix.materials:
        yield "materials", str(len(fix.materials)), f"none, since it is {fix.kind}", ""
    if fix.kind == "made" and not fix.how:
        yield "how", "none", "the steps to make it", ""
    if not fix.evidence:
        yield "evidence", "none", "at least one note; grade D says that nobody studied it", ""


def _of_effect(fix: Fix, effect: Effect) -> Iterator[tuple[str, str, str, str]]:
    where = f"effects.{effect.change}"
    if effect.change in SPECIAL:
        if fix.size is None or fix.size.of != SPECIAL[effect.change] or effect.set != "size":
            yield where, str(effect.value), f"set: size, with size of {SPECIAL[effect.change]}", ""
        return
    field = FIELDS.get(effect.change)
    if field is None:
        yield where, effect.change, "a field of the model", did_you_mean(effect.change, FIELDS)
        return
    values = list(_values(fix.size)) if effect.value == "size" else [effect.value]
    for value in values:
        if field.is_number:
            if not isinstance(value, float):
                yield where, str(value), f"a number of {field.unit}", ""
            elif effect.operation != "add" and not field.low <= value * effect.times <= field.high:
                yield where, f"{value * effect.times:g}", f"{field.low:g} to {field.high:g} {field.unit}", ""
        elif value not in field.words:
            yield where, str(value), ", ".join(field.words), did_you_mean(str(value), field.words)
        elif effect.operation != "set":
            yield where, effect.operation, "set, since it is a word", ""


def _values(size: Size | None) -> Iterator[Value]:
    if size is None:
        return
    yield from size.words
    if size.low is not None and size.high is not None:
        yield float(size.low)
        yield float(size.high)


def _of_predicate(where: str, predicate: Predicate) -> Iterator[tuple[str, str, str, str]]:
    name = predicate.name
    if name not in FIELDS and name not in QUANTITIES.quantities:
        known = [*FIELDS, *QUANTITIES.quantities]
        yield where, str(predicate), "a field or quantity of the model", did_you_mean(name, known)
        return
    if name in QUANTITIES.quantities and QUANTITIES.roles_of(name) - {"mode"}:
        yield where, str(predicate), "a quantity that is the same for every tool and activity", ""
        return
    about_words = name in FIELDS and not FIELDS[name].is_number
    if about_words != isinstance(predicate.value, str):
        kind = "is or is not with a word" if about_words else "at least, at most, over or under with a number"
        yield where, str(predicate), kind, ""
    elif about_words and predicate.value not in FIELDS[name].words:
        words = FIELDS[name].words
        yield where, str(predicate), ", ".join(words), did_you_mean(str(predicate.value), words)


def _self_defeating(fix: Fix, need: Need) -> Iterator[tuple[str, str, str, str]]:
    """Rules that the fix's own settings can never meet, so that it could never be chosen."""
    own = {e.change: e.value for e in fix.effects if e.operation == "set" and e.value != "size"}
    for predicate in () if need.when else need.all:
        if predicate.name in own and not bool(holds(predicate, own[predicate.name])):
            yield "needs", str(predicate), f"what the fix itself does not undo ({own[predicate.name]})", ""


def _never(fix: Fix) -> Iterator[tuple[str, str, str, str]]:
    """Rules that always hold and contradict each other, or that the fix's own exclusions contradict."""
    always = [predicate for need in fix.needs if not need.when for predicate in need.all]
    words = {p.name: p.value for p in always if p.relation == "is"}
    for predicate in always:
        if predicate.name in words and not bool(holds(predicate, words[predicate.name])):
            yield "needs", str(predicate), f"what goes with {predicate.name} is {words[predicate.name]}", ""
    set_here = {effect.change for effect in fix.effects}
    for caveat in fix.not_for:
        one = caveat.when
        if one is not None and one.name in words and one.name not in set_here and _is_fixed(one.name):
            if bool(holds(one, words[one.name])):
                yield "not_for", str(one), f"not what the fix needs ({one.name} is {words[one.name]})", ""
    lows = {p.name: p.value for p in always if p.relation in ("at least", "over")}
    for predicate in always:
        low = lows.get(predicate.name)
        if predicate.relation in ("at most", "under") and isinstance(low, float):
            if isinstance(predicate.value, float) and predicate.value < low:
                yield "needs", str(predicate), f"no less than its other end ({low:g})", ""


def _is_fixed(name: str) -> bool:
    """Whether a field is of the person, whom no other fix changes."""
    return name in FIELDS and FIELDS[name].level == "person"


def _scopes(catalog: Catalog) -> Iterator[Fault]:
    first: dict[str, Fix] = {}
    for fix in catalog.fixes:
        other = first.setdefault(fix.decision, fix)
        if other.scope != fix.scope:
            place = catalog.places[fix.id]
            allowed = f"{other.scope}, as {other.id} of the same decision"
            yield Fault(place.file, place.line, f"fixes.{fix.id}.scope", fix.scope, allowed)


def _circles(catalog: Catalog) -> Iterator[Fault]:
    """Fixes each of which needs what only the next one gives, back to the first."""
    gives: dict[tuple[str, Value], set[str]] = {}
    for fix in catalog.fixes:
        for effect in fix.effects:
            if effect.operation == "set" and isinstance(effect.value, str) and effect.value != "size":
                gives.setdefault((effect.change, effect.value), set()).add(fix.id)
    waits: dict[str, set[str]] = {}
    for fix in catalog.fixes:
        own = {(e.change, e.value) for e in fix.effects if e.operation == "set"}
        for need in fix.needs:
            for predicate in () if need.when else need.all:
                pair = (predicate.name, predicate.value)
                if predicate.relation == "is" and pair not in own and len(gives.get(pair, ())) == 1:
                    waits.setdefault(fix.id, set()).update(gives[pair])
    for start in waits:
        seen, todo = set(), [start]
        while todo:
            for other in sorted(waits.get(todo.pop(), ())):
                if other == start:
                    place = catalog.places[start]
                    allowed = "needs that do not come round to the fix itself"
                    yield Fault(place.file, place.line, f"fixes.{start}.needs", start, allowed)
                    todo = []
                    break
                if other not in seen:
                    seen.add(other)
                    todo.append(other)
