"""The pieces to cut for one step of a plan, in whole millimetres.

What a set of fixes takes and costs, worked out piece by piece without the optimiser.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.cut_expressions import Expression
from deskmend.intake.prices import PricedItem, PriceTable
from deskmend.planning.model.offers import OptionSpec, piece_item
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import Owner, State, owner_of

__all__ = [
    "SIZE",
    "Bill",
    "BillLine",
    "CutPiece",
    "Shortage",
    "bill_of",
    "cheapest_packs",
    "cut_pieces",
    "minutes_of",
    "shortages",
]


@dataclass(frozen=True)
class BillLine:
    """One item bought: packs, and their cost [minor units]."""

    item: str
    packs: int
    cost: int


@dataclass(frozen=True)
class Bill:
    """What has to be bought.

    Attributes
    ----------
    lines : tuple of BillLine
        Bought items, by name.
    missing : tuple of str
        Items that are needed, not owned, and cannot be bought.
    """

    lines: tuple[BillLine, ...]
    missing: tuple[str, ...]

    @property
    def total(self) -> int:
        """Cost of all lines [minor units]."""
        return sum(line.cost for line in self.lines)


def cheapest_packs(priced: PricedItem, need: int) -> tuple[int, int] | None:
    """Packs and cost of at least so many units.

    Parameters
    ----------
    priced : PricedItem
        Pack size, prices and stock.
    need : int
        Units.

    Returns
    -------
    (packs, cost) or None
        The least cost over pack counts that suffice, fewest packs among equals;
        every pack of an order gets the price of the highest tier it reaches.
        None where the stock does not suffice.
    """
    least = -(-need // priced.pack)
    counts = {least, *(tier.from_packs for tier in priced.tiers if tier.from_packs > least)}
    found = []
    for packs in sorted(counts):
        if priced.stock is not None and packs > priced.stock:
            continue
        price = priced.price
        for tier in priced.tiers:
            if packs >= tier.from_packs:
                price = tier.price
        found.append((packs * price, packs))
    return (min(found)[1], min(found)[0]) if found else None


def uses_of(chosen: Iterable[OptionSpec]) -> Counter[str]:
    """Units of every item; what is carried is taken once, however many places it serves."""
    use: Counter[str] = Counter()
    carried: set[str] = set()
    for option in chosen:
        if option.fix.carried:
            if option.fix.id in carried:
                continue
            carried.add(option.fix.id)
        use.update(option.use)
    return use


def minutes_of(chosen: Iterable[OptionSpec]) -> int:
    """Work of a set of fixes [min]; what is carried is made once."""
    total = 0
    carried: set[str] = set()
    for option in chosen:
        if option.fix.carried and option.fix.id in carried:
            continue
        carried.add(option.fix.id)
        total += option.fix.minutes
    return total


def bill_of(chosen: Iterable[OptionSpec], case: Case, prices: PriceTable) -> Bill:
    """Work out what a set of fixes costs.

    Parameters
    ----------
    chosen : iterable of OptionSpec
        The fixes.
    case : Case
        For what is owned.
    prices : PriceTable
        What can be bought.
    """
    owned: Counter[str] = Counter()
    for name, own in case.owns.items():
        owned[name] += own.count
        owned.update(piece_item(name, piece) for piece in own.pieces)
    lines, missing = [], []
    for item, units in sorted(uses_of(chosen).items()):
        need = units - owned[item]
        if need <= 0:
            continue
        packs = cheapest_packs(prices.items[item], need) if item in prices.items else None
        if packs is None:
            missing.append(item)
        elif packs[0]:
            lines.append(BillLine(item, *packs))
    return Bill(tuple(lines), tuple(missing))


SIZE = "size"
"""Name that stands for the chosen size in a cut list."""


@dataclass(frozen=True)
class CutPiece:
    """One kind of piece.

    Attributes
    ----------
    part : str
        What it becomes.
    item : str or None
        Item it is cut from; None: it is cut off what stands there.
    count : int
        How many, all alike [-].
    length, width, thickness : int or None
        Sides [mm]; None where it is the material's own, or cannot be told.
    width_to, thickness_to : int or None
        The same at the other end of a piece that tapers [mm].
    measure_first : bool
        It has to be measured where it goes: the size is a start, or rests on what was not measured.
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
    """How much more of an item the pieces take than the fix brings.

    Attributes
    ----------
    item : str
        The item; it is counted by length.
    missing : int
        Length missing [mm].
    """

    item: str
    missing: int


def cut_pieces(option: OptionSpec, state: State) -> tuple[CutPiece, ...]:
    """Work out the cut list of one step.

    Parameters
    ----------
    option : OptionSpec
        The fix with its size.
    state : State
        The workplace as it will be; sides may hang on its fields.

    Returns
    -------
    tuple of CutPiece
        In the order of the catalog; rounded half up to whole millimetres.
    """
    size = option.size if isinstance(option.size, float | int) else math.nan
    out = []
    for cut in option.fix.cuts:
        if cut.from_size is not None and not size >= cut.from_size:
            continue
        sums = (cut.length, cut.width, cut.width_to, cut.thickness, cut.thickness_to)
        sides = [None if one is None else _side(one, option, state, size) for one in sums]
        told = [value for one, value in zip(sums, sides, strict=True) if one is not None]
        guessed = any(_assumed(name, option.owner, state) for one in sums if one for name in one.names)
        length, width, width_to, thickness, thickness_to = sides
        out.append(
            CutPiece(
                cut.part,
                cut.of,
                cut.count,
                length,
                width,
                width_to,
                thickness,
                thickness_to,
                cut.fit or guessed or None in told,
            )
        )
    return tuple(out)


def _side(one: Expression, option: OptionSpec, state: State, size: float) -> int | None:
    def lookup(name: str) -> float:
        if name == SIZE:
            return size
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


def shortages(pieces: tuple[CutPiece, ...], fix: Fix, catalog: Catalog) -> tuple[Shortage, ...]:
    """Items counted by length of which the pieces take more than the fix brings.

    Parameters
    ----------
    pieces : tuple of CutPiece
        From `cut_pieces`.
    fix : Fix
        The fix.
    catalog : Catalog
        For the units of items.
    """
    out = []
    for material in fix.materials:
        if material.quantity is None or catalog.items[material.item].unit != "cm":
            continue
        taken = sum(piece.count * (piece.length or 0) for piece in pieces if piece.item == material.item)
        if taken > material.quantity * 10:
            out.append(Shortage(material.item, taken - material.quantity * 10))
    return tuple(out)
