"""What can be chosen: options of fixes at their sizes, the decisions they belong to, and what is left out.

A size is a fix's own, or what owned pieces add up to, or what the case offers. Options are made once for a
fix and an owner and shared by all people whom they serve alike.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Fix, Size
from deskmend.language import tr
from deskmend.workstation.effects import Change, changes_of
from deskmend.workstation.fields import Value
from deskmend.workstation.state import Owner, Slot, State, seat_values

__all__ = [
    "KEEP",
    "LeftOut",
    "Offer",
    "Offers",
    "OptionMaker",
    "OptionSpec",
    "Sized",
    "number_text",
    "own_sizes",
    "piece_item",
    "refitted",
    "sizes_here",
]


def number_text(value: Value) -> str:
    """Size as it stands in a name: whole numbers without a point, words as they are."""
    return f"{value:.6f}".rstrip("0").rstrip(".") if isinstance(value, float | int) else value


KEEP = "keep"
"""Name of the option that leaves things as they are."""


@dataclass(frozen=True)
class OptionSpec:
    """One fix at one size for one owner.

    - `name`: name within its decision; unlike ``with_name`` it tells apart stacks of equal height.
    - `fix`: the fix.
    - `owner`: whom it is for.
    - `size`: chosen size.
    - `pieces`: owned pieces that make the size [mm].
    - `changes`: what it changes.
    - `moves_to`: new place of the task.
    - `use`: items it takes. People share options, so it is only read.
    """

    name: str
    fix: Fix
    owner: Owner
    size: Value | None
    pieces: tuple[float, ...]
    changes: tuple[Change, ...]
    moves_to: str | None
    use: Mapping[str, int]

    @property
    def is_cut(self) -> bool:
        """Whether what it takes is cut for it, and serves nothing else afterwards."""
        return bool(self.fix.cuts) and bool(self.use) and not self.pieces

    @property
    def with_name(self) -> str:
        """What ``assess --with`` takes."""
        prefix = f"{self.owner[1]}." if self.owner[1] else ""
        return prefix + self.fix.id + ("" if self.size is None else f"={number_text(self.size)}")


@dataclass(frozen=True)
class Offer:
    """One decision: keep, or one of the options, in catalog order, small sizes first.

    Its name has the id of its place or task before it; keeping is not among the options.
    """

    name: str
    owner: Owner
    options: tuple[OptionSpec, ...]


@dataclass(frozen=True)
class LeftOut:
    """A fix that is not offered, and why."""

    fix: Fix
    owner: Owner
    reason: str
    cause: str


@dataclass(frozen=True)
class Offers:
    """All decisions of a case, and what is left out of them."""

    decisions: tuple[Offer, ...]
    left_out: tuple[LeftOut, ...]

    def options(self) -> Iterator[OptionSpec]:
        """Every option of every decision."""
        for offer in self.decisions:
            yield from offer.options

    def taken(self, choice: Mapping[str, str]) -> tuple[OptionSpec, ...]:
        """Options that a choice takes, in catalog order; a decision it leaves out is kept as it is."""
        names = {offer.name: choice.get(offer.name, KEEP) for offer in self.decisions}
        return tuple(o for offer in self.decisions for o in offer.options if o.name == names[offer.name])

    def without(
        self, names: Mapping[str, Iterable[str]], why: Callable[[Offer, Fix], str] | None = None
    ) -> Offers:
        """Offers without some options, by decision; what is gone is told in ``left_out``.

        `why` gives the reason of a fix that is gone; empty where it is no single one.
        """
        decisions = []
        left_out = list(self.left_out)
        for offer in self.decisions:
            bad = set(names.get(offer.name, ()))
            if not bad and offer.options:
                decisions.append(offer)
                continue
            kept = tuple(option for option in offer.options if option.name not in bad)
            if kept:
                decisions.append(Offer(offer.name, offer.owner, kept))
            staying = {option.fix.id for option in kept}
            for fix in dict.fromkeys(option.fix for option in offer.options):
                if fix.id not in staying:
                    reason = "" if why is None else why(offer, fix)
                    if not reason and len(fix.needs) == 1:
                        reason = tr(fix.needs[0].why)
                    reason = reason or tr("what it needs cannot be met here")
                    left_out.append(LeftOut(fix, offer.owner, reason, "needs"))
        return Offers(tuple(decisions), tuple(left_out))


def piece_item(item: str, thickness: float) -> str:
    """Name of the stock of owned pieces of one thickness."""
    return f"{item}:{number_text(thickness)}"


SIZE = re.compile(r"[0-9]{1,4}(\.[0-9])?", re.ASCII)
"""A size that people tell, to a tenth."""
MAX_PIECES = 6
"""Most pieces of a kind that are stacked."""

Sized = tuple[Value | None, tuple[float, ...]]
"""A size, and the owned pieces that make it [mm]."""


def own_sizes(size: Size | None) -> tuple[Sized, ...] | None:
    """Sizes that are the same for everybody, small ones first; None where they hang on the case."""
    if size is None:
        return ((None, ()),)
    if size.words:
        return tuple((word, ()) for word in size.words)
    if size.pieces is not None or size.of is not None:
        return None
    steps = _steps(float(size.low or 0), float(size.high or 0), float(size.step or 1))
    return tuple((one, ()) for one in steps)


def sizes_here(size: Size, owner: Owner, case: Case, state: State) -> Iterator[Sized]:
    """Sizes that hang on the case, small ones first: owned pieces, other seats, and what adjusts."""
    if size.pieces is not None:
        owned = case.owns.get(size.pieces)
        pieces = owned.pieces[:MAX_PIECES] if owned is not None else ()
        low, high = float(size.low or 0), float(size.high or 0)
        yield from ((height, stack) for height, stack in _stacks(pieces) if low <= height <= high)
    elif size.of is not None:
        yield from ((one, ()) for one in _offered(size.of, size.step or 10.0, owner, case, state))


def _steps(low: float, high: float, step: float) -> Iterator[float]:
    count = int((high - low) / step + 1e-9)
    yield from (low + step * number for number in range(count + 1))


@lru_cache(maxsize=64)
def _stacks(pieces: tuple[float, ...]) -> tuple[tuple[float, tuple[float, ...]], ...]:
    """Heights that owned pieces add up to, fewest pieces first among equals."""
    counts = sorted(Counter(pieces).items())
    found = []
    for taken in product(*(range(n + 1) for _, n in counts)):
        stack = tuple(t for (t, _), n in zip(counts, taken, strict=True) for _ in range(n))
        if stack:
            found.append((sum(stack), len(stack), stack))
    return tuple((height, stack) for height, _, stack in sorted(found))


def _offered(of: str, step: float, owner: Owner, case: Case, state: State) -> Iterator[Value]:
    if of == "places":
        if len(state.places) > 1:
            yield from state.places
        return
    if of == "monitor.top_range":
        if case.devices.monitor is not None and case.devices.monitor.top_range is not None:
            yield from _span(case.devices.monitor.top_range, step)
        return
    place = next(p for p in case.places if p.id == owner[1])
    if of == "other_seats":
        yield from (seat.id for seat in place.other_seats)
    elif (key := of.removeprefix("seat.")) != of:
        span: tuple[float, float] | None = getattr(place.seat, key, None)
        if span is not None:
            yield from _span(span, step)
    elif of == "desk.height_range" and place.desk.height_range is not None:
        yield from _span(place.desk.height_range, step)


def _span(ends: tuple[float, float], step: float) -> Iterator[float]:
    yield from _steps(ends[0], ends[1], step)
    if (ends[1] - ends[0]) % step > 1e-9:
        yield ends[1]


KEPT_OPTIONS = 500
"""Most options of a fix that are kept where sizes hang on the case; people own many different books."""
CHOSEN_SIZE = "size"
"""What stands in a catalog for the chosen size."""


class _Made(NamedTuple):
    """An option, and what already holds where it changes nothing; None where it changes something anyway."""

    option: OptionSpec
    changes_nothing_if: tuple[tuple[Slot, Value], ...] | None


class OptionMaker:
    """Makes the options of one fix for one owner; of a state, that of anybody alike, only ids are read."""

    def __init__(self, fix: Fix, owner: Owner, state: State) -> None:
        self._fix, self._owner = fix, owner
        self._moves = any(effect.change == "task.place" for effect in fix.effects)
        self._seats = sum(effect.change == "seat" for effect in fix.effects)
        # At size 1 a change that follows the size shows its factor.
        at_one = changes_of(fix, owner, None if fix.size is None else 1.0, state)
        by_size = changes_of(fix, owner, CHOSEN_SIZE, state)
        self._changes = tuple(
            (change, other.value == CHOSEN_SIZE) for change, other in zip(at_one, by_size, strict=True)
        )
        self._kept: dict[Sized, _Made] = {}
        own = own_sizes(fix.size)
        self._own = None if own is None or self._seats else tuple(self._make(*sized) for sized in own)
        self._for_all = self._without_conditions()

    def options(self, case: Case, state: State) -> Sequence[OptionSpec]:
        """Options for one person: those that change anything, small sizes first."""
        if self._for_all is not None:
            return self._for_all
        out = []
        named: dict[str, int] = {}
        values = state.values
        for option, settled in self._own if self._own is not None else self._here(case, state):
            if settled is not None and _all_hold(settled, values):
                continue
            if self._moves and option.moves_to == state.place_of[self._owner[1]]:
                continue
            number = named[option.name] = named.get(option.name, 0) + 1
            out.append(option if number == 1 else replace(option, name=f"{option.name}#{number}"))
        return out

    def between(self, texts: Iterable[str], options: Sequence[OptionSpec]) -> list[OptionSpec]:
        """Options at sizes, as people write them, that lie between those of `options`.

        Things are sold and cut in more sizes than are planned with; a stack has those of its pieces alone.
        """
        if self._fix.size is None or self._fix.size.pieces is not None:
            return []
        had = {option.size for option in options if isinstance(option.size, float)}
        new = {float(text) for text in texts if SIZE.fullmatch(text)} - had
        return [self._make(one, ()).option for one in sorted(new) if had and min(had) < one < max(had)]

    def _without_conditions(self) -> tuple[OptionSpec, ...] | None:
        """Options that everybody has, under names that differ; None where a case has to be looked at."""
        if self._own is None or self._moves or any(made.changes_nothing_if is not None for made in self._own):
            return None
        if len({made.option.name for made in self._own}) < len(self._own):
            return None
        return tuple(made.option for made in self._own)

    def _here(self, case: Case, state: State) -> Iterable[_Made]:
        own = own_sizes(self._fix.size)
        if own is None and self._fix.size is not None:
            own = tuple(sizes_here(self._fix.size, self._owner, case, state))
        for sized in own or ():
            if self._seats:
                yield self._make(*sized, self._seats * _seat_changes(self._owner, str(sized[0]), case))
                continue
            made = self._kept.get(sized)
            if made is None:
                if len(self._kept) >= KEPT_OPTIONS:
                    self._kept.clear()
                made = self._kept[sized] = self._make(*sized)
            yield made

    def _make(self, size: Value | None, pieces: tuple[float, ...], of_seat: tuple[Change, ...] = ()) -> _Made:
        fix = self._fix
        use = Counter({m.item: m.quantity for m in fix.takes_at(size) if m.quantity is not None})
        if fix.size is not None and fix.size.pieces is not None:
            use.update(piece_item(fix.size.pieces, piece) for piece in pieces)
        changes = (*(self._at(size, *change) for change in self._changes), *of_seat)
        name = fix.id + ("" if size is None else f"={number_text(size)}")
        moves_to = str(size) if self._moves else None
        option = OptionSpec(name, fix, self._owner, size, pieces, changes, moves_to, dict(use))
        if self._moves or any(change.operation != "set" for change in changes):
            return _Made(option, None)
        return _Made(option, tuple((change.slot, change.value) for change in changes))

    @staticmethod
    def _at(size: Value | None, change: Change, follows_size: bool) -> Change:
        if not follows_size or size is None:
            return change
        value = size if isinstance(size, str) else float(size) * float(change.value)
        return Change(change.slot, change.operation, value)


def _all_hold(settled: tuple[tuple[Slot, Value], ...], values: Mapping[Slot, Value]) -> bool:
    for slot, value in settled:
        if values[slot] != value:
            return False
    return True


def refitted(option: OptionSpec, case: Case) -> OptionSpec:
    """The same option of the same person, where the seats that may be swapped in measure otherwise."""
    if all(effect.change != "seat" for effect in option.fix.effects):
        return option
    there = {change.slot: change for change in _seat_changes(option.owner, str(option.size), case)}
    changes = (there.get(one.slot, one) if one.operation == "set" else one for one in option.changes)
    return replace(option, changes=tuple(changes))


def _seat_changes(owner: Owner, seat: str, case: Case) -> tuple[Change, ...]:
    for place in case.places:
        for other in place.other_seats:
            if place.id == owner[1] and other.id == seat:
                values = seat_values(other)
                return tuple(Change((owner, name), "set", value) for name, value in values.items())
    raise KeyError(seat)
