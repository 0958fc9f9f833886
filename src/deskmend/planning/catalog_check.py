"""Checking a catalog against the model: names it can resolve, sizes it can hold, rules that can be met."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import product
from typing import NamedTuple

from deskmend.errors import Fault, did_you_mean
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Conditional, Cut, Effect, Fix, Need, Predicate, Sentence, Size
from deskmend.intake.reading.fields import Expression
from deskmend.planning.bill import cut_sides
from deskmend.planning.model.rules import PIECES, SIZE, holds
from deskmend.workstation.fields import FIELDS, LAPSED, Level, Value
from deskmend.workstation.graph import QUANTITIES

__all__ = ["check_catalog"]

SPECIAL = {"task.place": "places", "seat": "other_seats"}
"""Changes that are no fields, and the sizes they take."""
SHORTEST, LONGEST = 1.0, 5000.0
"""Sides of a piece that a cut list may give [mm] (judgement)."""
LEVELS_OF_SCOPE: dict[str, tuple[Level, ...]] = {
    "person": ("person", "device"),
    "device": ("person", "device"),
    "place": ("person", "device", "place"),
    "task": ("person", "device", "place", "task"),
}
"""Levels whose fields are told for a fix of each scope."""


class Misfit(NamedTuple):
    """What of one fix the model cannot use: where, what was read, what is allowed."""

    where: str
    read: str
    allowed: str
    hint: str = ""


def check_catalog(catalog: Catalog) -> list[Fault]:
    """Find what in a catalog, checked for itself already, the model cannot use.

    Unknown fields and quantities, words and sizes out of range, fixes of one decision with different scopes,
    needs that go round in a circle, fixes that change nothing or whose rules nothing can meet, made things
    without steps, cut lists that cannot be worked out, effects without evidence, sentences whose conditions
    nothing answers to.
    """
    found = [
        *((fix, misfit) for fix in catalog.fixes for misfit in _misfits(fix)),
        *_scopes(catalog),
        *_circles(catalog),
    ]
    out = []
    for fix, (where, read, allowed, hint) in found:
        place = catalog.places[fix.id]
        out.append(Fault(place.file, place.line, f"fixes.{fix.id}.{where}", read, allowed, hint))
    file = str(catalog.folder / "advice.yaml")
    for one in catalog.advice:
        for key, sentence in one.sentences:
            for where, read, allowed, hint in _of_advice(key, sentence):
                out.append(Fault(file, None, f"advice.{one.id}.{where}", read, allowed, hint))
    return out


def _misfits(fix: Fix) -> Iterator[Misfit]:
    for effect in fix.effects:
        yield from _of_effect(fix, effect)
    if fix.kept_up is not None:
        for effect in fix.effects:
            if effect.change not in LAPSED:
                yield Misfit("kept_up", effect.change, f"only changes of {', '.join(LAPSED)}")
        if fix.scope not in ("person", "place"):
            yield Misfit("kept_up", fix.scope, "a fix of the person or of a place")
    if not fix.effects:
        yield Misfit("effects", "none", "at least one; what only informs goes to advice.yaml")
    for need in fix.needs:
        for predicate in (*need.when, *need.all, *need.any):
            yield from _of_predicate("needs", predicate)
        yield from _self_defeating(fix, need)
    yield from _never(fix)
    for caveat in fix.not_for:
        if caveat.when is not None:
            yield from _of_predicate("not_for", caveat.when)
        if (caveat.sign is None) == (caveat.when is None):
            yield Misfit("not_for", caveat.why, "either sign or when")
    for key, sentence in fix.sentences:
        yield from _of_conditions(fix, key, sentence)
        if sentence.length is not None:
            yield from _of_length(fix, sentence.length, key)
    for watch in fix.watch:
        yield from _of_conditions(fix, "watch", watch)
    for number, cut in enumerate(fix.cuts):
        yield from _of_cut(fix, cut, f"cuts.{number}")
    for number, material in enumerate(fix.materials):
        if material.from_size is not None and not _ends(fix.size):
            where, allowed = f"materials.{number}.from_size", "only where the fix has sizes in numbers"
            yield Misfit(where, str(material.from_size), allowed)
    if fix.kind in ("made", "bought") and not fix.materials:
        yield Misfit("materials", "none", f"at least one, since it is {fix.kind}")
    if fix.kind in ("rearranged", "habit") and fix.materials:
        yield Misfit("materials", str(len(fix.materials)), f"none, since it is {fix.kind}")
    if fix.kind == "made" and not fix.how:
        yield Misfit("how", "none", "the steps to make it")
    if not fix.evidence:
        yield Misfit("evidence", "none", "at least one note; grade D says that nobody studied it")


def _of_effect(fix: Fix, effect: Effect) -> Iterator[Misfit]:
    where = f"effects.{effect.change}"
    if effect.change in SPECIAL:
        if fix.size is None or fix.size.of != SPECIAL[effect.change] or effect.set != SIZE:
            yield Misfit(where, str(effect.value), f"set: size, with size of {SPECIAL[effect.change]}")
        return
    field = FIELDS.get(effect.change)
    if field is None:
        yield Misfit(where, effect.change, "a field of the model", did_you_mean(effect.change, FIELDS))
        return
    values = [*_words(fix.size), *_ends(fix.size)] if effect.value == SIZE else [effect.value]
    for value in values:
        if field.is_number:
            if not isinstance(value, float):
                yield Misfit(where, str(value), f"a number of {field.unit}")
            elif effect.operation != "add" and not field.low <= value * effect.times <= field.high:
                allowed = f"{field.low:g} to {field.high:g} {field.unit}"
                yield Misfit(where, f"{value * effect.times:g}", allowed)
        elif value not in field.words:
            hint = did_you_mean(str(value), field.words)
            yield Misfit(where, str(value), ", ".join(field.words), hint)
        elif effect.operation != "set":
            yield Misfit(where, effect.operation, "set, since it is a word")


def _words(size: Size | None) -> Iterable[str]:
    return () if size is None else size.words


def _ends(size: Size | None) -> tuple[float, ...]:
    """Smallest and largest size in numbers; none where it has words or what the case offers."""
    if size is None or size.low is None or size.high is None:
        return ()
    return (float(size.low), float(size.high))


def _of_predicate(where: str, predicate: Predicate) -> Iterator[Misfit]:
    name = predicate.name
    if name not in FIELDS and name not in QUANTITIES.quantities:
        hint = did_you_mean(name, [*FIELDS, *QUANTITIES.quantities])
        yield Misfit(where, str(predicate), "a field or quantity of the model", hint)
        return
    if name in QUANTITIES.quantities and QUANTITIES.roles_of(name) - {"mode"}:
        yield Misfit(where, str(predicate), "a quantity that is the same for every tool and activity")
        return
    words = () if name not in FIELDS or FIELDS[name].is_number else FIELDS[name].words
    if bool(words) != isinstance(predicate.value, str):
        number = "at least, at most, over or under with a number"
        yield Misfit(where, str(predicate), "is or is not with a word" if words else number)
    elif words and predicate.value not in words:
        yield Misfit(where, str(predicate), ", ".join(words), did_you_mean(str(predicate.value), words))


def _of_advice(where: str, sentence: Conditional) -> Iterator[Misfit]:
    yield from _of_conditions(None, where, sentence)
    if isinstance(sentence, Sentence) and sentence.length is not None:
        yield Misfit(where, str(sentence.length), "no length, since advice is for no step")


def _of_conditions(fix: Fix | None, where: str, sentence: Conditional) -> Iterator[Misfit]:
    for condition in sentence.conditions:
        if condition.name == SIZE:
            if fix is None or fix.size is None or fix.size.words or isinstance(condition.value, str):
                yield Misfit(where, str(condition), "a number held against a size that is one")
        elif condition.name != PIECES:
            yield from _of_predicate(where, condition)
        elif fix is None or fix.size is None or fix.size.pieces is None:
            yield Misfit(where, str(condition), "pieces only where the size is made of pieces")
        elif isinstance(condition.value, str):
            yield Misfit(where, str(condition), "at least, at most, over or under with a number")


def _self_defeating(fix: Fix, need: Need) -> Iterator[Misfit]:
    """Rules that the fix's own settings can never meet, so that it could never be chosen."""
    own = {e.change: e.value for e in fix.effects if e.operation == "set" and e.value != SIZE}
    for predicate in () if need.when else need.all:
        if predicate.name in own and not bool(holds(predicate, own[predicate.name])):
            allowed = f"what the fix itself does not undo ({own[predicate.name]})"
            yield Misfit("needs", str(predicate), allowed)


def _never(fix: Fix) -> Iterator[Misfit]:
    """Rules that always hold and contradict each other, or that the fix's own exclusions contradict."""
    always = [predicate for need in fix.needs if not need.when for predicate in need.all]
    words = {p.name: p.value for p in always if p.relation == "is"}
    for predicate in always:
        if predicate.name in words and not bool(holds(predicate, words[predicate.name])):
            allowed = f"what goes with {predicate.name} is {words[predicate.name]}"
            yield Misfit("needs", str(predicate), allowed)
    set_here = {effect.change for effect in fix.effects}
    for caveat in fix.not_for:
        one = caveat.when
        if one is not None and one.name in words and one.name not in set_here and _is_fixed(one.name):
            if bool(holds(one, words[one.name])):
                allowed = f"not what the fix needs ({one.name} is {words[one.name]})"
                yield Misfit("not_for", str(one), allowed)
    lows = {p.name: p.value for p in always if p.relation in ("at least", "over")}
    for predicate in always:
        low = lows.get(predicate.name)
        if predicate.relation in ("at most", "under") and isinstance(low, float):
            if isinstance(predicate.value, float) and predicate.value < low:
                yield Misfit("needs", str(predicate), f"no less than its other end ({low:g})")


def _is_fixed(name: str) -> bool:
    """Whether a field is of the person, whom no other fix changes."""
    return name in FIELDS and FIELDS[name].level == "person"


def _of_cut(fix: Fix, cut: Cut, where: str) -> Iterator[Misfit]:
    """Find what in a cut list cannot be worked out or sawn."""
    if cut.from_size is not None and not _ends(fix.size):
        yield Misfit(f"{where}.from_size", str(cut.from_size), "only where the fix has sizes in numbers")
    for side, one in cut_sides(cut).items():
        yield from _of_length(fix, one, f"{where}.{side}", cut.from_size)


def _of_length(fix: Fix, one: Expression, where: str, from_size: int | None = None) -> Iterator[Misfit]:
    """Find what in a length keeps it from being worked out."""
    sizes, levels = _ends(fix.size), LEVELS_OF_SCOPE[fix.scope]
    known = [name for name, field in FIELDS.items() if field.is_number and field.level in levels]
    unknown = [name for name in one.names if name != SIZE and name not in known]
    for name in unknown:
        allowed = f"size, or a number of the model that a fix of scope {fix.scope} can ask for"
        yield Misfit(where, name, allowed, did_you_mean(name, [SIZE, *known]))
    if SIZE in one.names and not sizes:
        yield Misfit(where, SIZE, "no size, since the fix has none in numbers")
    elif not unknown:
        taken = tuple(size for size in sizes if from_size is None or size >= from_size)
        yield from _out_of_hand(one, taken, where)


def _out_of_hand(one: Expression, sizes: tuple[float, ...], where: str) -> Iterator[Misfit]:
    """A side that cannot be at an end of the sizes and fields it hangs on."""
    ends = [sizes if name == SIZE else (FIELDS[name].low, FIELDS[name].high) for name in one.names]
    for values in product(*ends):
        given = dict(zip(one.names, values, strict=True))
        value = one.value(given.__getitem__)
        if not (math.isfinite(value) and SHORTEST <= value <= LONGEST):
            at = ", ".join(f"{name} {number:g}" for name, number in given.items())
            allowed = f"{SHORTEST:g} to {LONGEST:g} mm for every size and field"
            yield Misfit(where, f"{one} is {value:g} mm" + (f" at {at}" if at else ""), allowed)
            return


def _scopes(catalog: Catalog) -> Iterator[tuple[Fix, Misfit]]:
    """Fixes of one decision that differ in whom they are for."""
    first: dict[str, Fix] = {}
    for fix in catalog.fixes:
        other = first.setdefault(fix.decision, fix)
        if other.scope != fix.scope:
            yield fix, Misfit("scope", fix.scope, f"{other.scope}, as {other.id} of the same decision")


def _circles(catalog: Catalog) -> Iterator[tuple[Fix, Misfit]]:
    """Fixes each of which needs what only the next one gives, back to the first."""
    gives: dict[tuple[str, Value], set[str]] = {}
    for fix in catalog.fixes:
        for effect in fix.effects:
            if effect.operation == "set" and isinstance(effect.value, str) and effect.value != SIZE:
                gives.setdefault((effect.change, effect.value), set()).add(fix.id)
    waits: dict[str, set[str]] = {fix.id: set() for fix in catalog.fixes}
    for fix in catalog.fixes:
        own = {(e.change, e.value) for e in fix.effects if e.operation == "set"}
        for need in fix.needs:
            for predicate in () if need.when else need.all:
                pair = (predicate.name, predicate.value)
                if predicate.relation == "is" and pair not in own and len(gives.get(pair, ())) == 1:
                    waits[fix.id] |= gives[pair]
    for fix in catalog.fixes:
        reached: set[str] = set()
        todo = set(waits[fix.id])
        while todo:
            reached |= todo
            todo = {after for one in todo for after in waits[one]} - reached
        if fix.id in reached:
            yield fix, Misfit("needs", fix.id, "needs that do not come round to the fix itself")
