"""The options of one fix for one owner, made once and shared by all people whom they serve alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Fix
from deskmend.planning.naming import number_text
from deskmend.planning.option_records import OptionSpec, piece_item
from deskmend.planning.option_sizes import Sized, own_sizes, sizes_here
from deskmend.workstation.effects import Change, changes_of
from deskmend.workstation.fields import Value
from deskmend.workstation.state import Owner, Slot, State, seat_values

__all__ = ["OptionMaker"]

KEPT_OPTIONS = 500
"""Most options of a fix that are kept where sizes hang on the case; people own many different books."""
BY_SIZE = "size"
"""What stands in a catalog for the chosen size."""


class _Made(NamedTuple):
    """An option, and what already holds where it changes nothing; None where it changes something anyway."""

    option: OptionSpec
    changes_nothing_if: tuple[tuple[Slot, Value], ...] | None


class OptionMaker:
    """Makes the options of one fix for one owner.

    Parameters
    ----------
    fix : Fix
        The fix.
    owner : Owner
        Whom it is for.
    state : State
        Of anybody with the same places and tasks; only their ids are read.
    """

    def __init__(self, fix: Fix, owner: Owner, state: State) -> None:
        self._fix, self._owner = fix, owner
        self._use = Counter({m.item: m.quantity for m in fix.materials if m.quantity is not None})
        self._moves = any(effect.change == "task.place" for effect in fix.effects)
        self._seats = sum(effect.change == "seat" for effect in fix.effects)
        # At size 1 a change that follows the size shows its factor.
        at_one = changes_of(fix, owner, None if fix.size is None else 1.0, state)
        by_size = changes_of(fix, owner, BY_SIZE, state)
        self._changes = tuple(
            (change, other.value == BY_SIZE) for change, other in zip(at_one, by_size, strict=True)
        )
        self._kept: dict[Sized, _Made] = {}
        own = own_sizes(fix.size)
        self._own = None if own is None or self._seats else tuple(self._make(*sized) for sized in own)
        self._for_all = self._without_conditions()

    def options(self, case: Case, state: State) -> Sequence[OptionSpec]:
        """Options for one person: those that change anything, small sizes first.

        Parameters
        ----------
        case : Case
            The case.
        state : State
            As the case describes it.
        """
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
        use = Counter(self._use)
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


def _seat_changes(owner: Owner, seat: str, case: Case) -> tuple[Change, ...]:
    for place in case.places:
        for other in place.other_seats:
            if place.id == owner[1] and other.id == seat:
                values, _ = seat_values(other)
                return tuple(Change((owner, name), "set", value) for name, value in values.items())
    raise KeyError(seat)
