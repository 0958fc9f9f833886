"""What a set of fixes takes: what has to be bought for it, the work, and the pieces to cut.

Worked out fix by fix, without the optimiser.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Cut, Fix
from deskmend.intake.prices import PricedItem, PriceTable
from deskmend.intake.reading.fields import Expression
from deskmend.measures import Minor, Minutes
from deskmend.planning.model.offers import OptionSpec, piece_item
from deskmend.planning.model.rules import SIZE
from deskmend.workstation.fields import FIELDS, Value
from deskmend.workstation.state import Owner, State, owner_of

__all__ = [
    "Bill",
    "BillLine",
    "CutPiece",
    "Shortage",
    "Taking",
    "bill_of",
    "cheapest_packs",
    "cut_pieces",
    "cut_sides",
    "length_of",
    "minutes_of",
    "owned_units",
    "shortages",
    "takings",
]


@dataclass(frozen=True)
class BillLine:
    """One item bought: packs, and their cost; of their units so many are needed."""

    item: str
    packs: int
    cost: Minor
    units: int = 0


@dataclass(frozen=True)
class Bill:
    """What has to be bought, by name, and what is needed, not owned, and cannot be bought."""

    lines: tuple[BillLine, ...]
    missing: tuple[str, ...]

    @property
    def total(self) -> Minor:
        """Cost of all lines."""
        return sum(line.cost for line in self.lines)


def cheapest_packs(priced: PricedItem, need: int) -> tuple[int, Minor] | None:
    """Packs and cost of at least so many units; None where the stock does not suffice.

    The least cost over pack counts that suffice, fewest packs among equals; every pack of an order gets the
    price of the highest tier it reaches.
    """
    least = -(-need // priced.pack)
    # more packs than needed can only pay off where they reach a tier
    counts = {least, *(tier.from_packs for tier in priced.tiers if tier.from_packs > least)}
    found = []
    for packs in counts:
        if priced.stock is not None and packs > priced.stock:
            continue
        price = priced.price
        for tier in priced.tiers:
            if packs >= tier.from_packs:
                price = tier.price
        found.append((packs * price, packs))
    if not found:
        return None
    cost, packs = min(found)
    return packs, cost


def _each_once(chosen: Iterable[OptionSpec]) -> Iterator[OptionSpec]:
    """Fixes that take material and work: what is carried is made once, however many places it serves."""
    carried: set[str] = set()
    for option in chosen:
        if option.fix.id in carried:
            continue
        if option.fix.carried:
            carried.add(option.fix.id)
        yield option


def minutes_of(chosen: Iterable[OptionSpec]) -> Minutes:
    """Work of a set of fixes."""
    return sum(option.fix.minutes for option in _each_once(chosen))


def bill_of(chosen: Iterable[OptionSpec], case: Case, prices: PriceTable) -> Bill:
    """What has to be bought for a set of fixes, beside what the case owns."""
    use: Counter[str] = Counter()
    for option in _each_once(chosen):
        use.update(option.use)
    owned = owned_units(case)
    lines, missing = [], []
    for item, units in sorted(use.items()):
        need = units - owned[item]
        if need <= 0:
            continue
        packs = cheapest_packs(prices.items[item], need) if item in prices.items else None
        if packs is None:
            missing.append(item)
        elif packs[0]:
            lines.append(BillLine(item, *packs, need))
    return Bill(tuple(lines), tuple(missing))


def owned_units(case: Case) -> Counter[str]:
    """Units of every item that a case owns, each piece of a known thickness as an item of its own."""
    owned: Counter[str] = Counter()
    for name, own in case.owns.items():
        owned[name] += own.count
        owned.update(piece_item(name, piece) for piece in own.pieces)
    return owned


@dataclass(frozen=True)
class Taking:
    """One item that a step takes: units in all, and those that the person owns; the rest is bought."""

    item: str
    units: int
    owned: int


def takings(ordered: Iterable[OptionSpec], case: Case) -> list[tuple[Taking, ...]]:
    """What each step of an order takes; what is owned goes to the first that takes it, and to it alone.

    A step that uses again what an earlier one has made or bought to be carried takes nothing.
    """
    chosen, left = list(ordered), owned_units(case)
    new = {id(option) for option in _each_once(chosen)}
    out = []
    for option in chosen:
        takes = []
        for item, units in option.use.items() if id(option) in new else ():
            owned = min(units, left[item])
            left[item] -= owned
            takes.append(Taking(item, units, owned))
        out.append(tuple(takes))
    return out


@dataclass(frozen=True)
class CutPiece:
    """One kind of piece to cut.

    - `part`: what it becomes.
    - `item`: item it is cut from; None: it is cut off what stands there.
    - `count`: how many, all alike.
    - `length`, `width`, `thickness`: sides [mm]; None where it is the material's own, or cannot be told.
    - `width_to`, `thickness_to`: the same at the other end of a piece that tapers [mm].
    - `measure_first`: it has to be measured where it goes: the size is a start, or rests on what was not
      measured.
    """

    part: str
    item: str | None
    count: int
    length: int | None
    width: int | None = None
    width_to: int | None = None
    thickness: int | None = None
    thickness_to: int | None = None
    measure_first: bool = False


@dataclass(frozen=True)
class Shortage:
    """How much more [mm] of an item counted by length the pieces take than the fix brings."""

    item: str
    missing: int


def cut_sides(cut: Cut) -> dict[str, Expression]:
    """How each side that a cut list gives is worked out; what it leaves out is the material's own."""
    named = ("length", "width", "width_to", "thickness", "thickness_to")
    return {side: one for side in named if (one := getattr(cut, side)) is not None}


def cut_pieces(option: OptionSpec, state: State) -> tuple[CutPiece, ...]:
    """Cut list of one step in catalog order, rounded half up to whole millimetres.

    The state is the workplace as it will be; sides may hang on its fields.
    """
    out = []
    for cut in option.fix.cuts:
        # Also where there is no size (nan).
        if cut.from_size is not None and not _number_of(option) >= cut.from_size:
            continue
        sums = cut_sides(cut)
        sides = {side: length_of(one, option, state) for side, one in sums.items()}
        guessed = any(_assumed(name, option.owner, state) for one in sums.values() for name in one.names)
        first = cut.fit or guessed or None in sides.values()
        out.append(CutPiece(cut.part, cut.of, cut.count, measure_first=first, **sides))
    return tuple(out)


def _number_of(option: OptionSpec) -> float:
    return option.size if isinstance(option.size, float | int) else math.nan


def length_of(one: Expression, option: OptionSpec, state: State) -> int | None:
    """A length worked out for a step [mm]; None where it hangs on what has no number, or is nothing."""

    def lookup(name: str) -> float:
        if name == SIZE:
            return _number_of(option)
        value = state.values.get((_owner(name, option.owner, state), name), math.nan)
        return value if isinstance(value, float) else math.nan

    value = one.value(lookup)
    if not math.isfinite(value) or value < 0.5:
        return None
    return math.floor(value + 0.5)


def _owner(name: str, owner: Owner, state: State) -> Owner:
    """Whose field a name of a cut list means, for a fix of one owner."""
    level, of = owner
    task = of if level == "task" else ""
    place = state.place_of[of] if level == "task" else of if level == "place" else ""
    return owner_of(FIELDS[name].level, task, place)


def _assumed(name: str, owner: Owner, state: State) -> bool:
    return name != SIZE and (_owner(name, owner, state), name) in state.assumed


def shortages(
    pieces: tuple[CutPiece, ...], fix: Fix, size: Value | None, catalog: Catalog
) -> tuple[Shortage, ...]:
    """Items counted by length of which the pieces take more than the fix brings at a size."""
    out = []
    for material in fix.takes_at(size):
        if material.quantity is None or catalog.items[material.item].unit != "cm":
            continue
        taken = sum(piece.count * (piece.length or 0) for piece in pieces if piece.item == material.item)
        if taken > material.quantity * 10:
            out.append(Shortage(material.item, taken - material.quantity * 10))
    return tuple(out)
