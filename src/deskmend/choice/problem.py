"""The problem of choice, free of any domain: decisions, options, items and exact integer tables.

Everything is an integer and the least value wins.  A decision takes exactly one of its options.  Tables
give what every combination of a few decisions contributes to the value.  Items are bought in packs for the
total use of the options taken.  Nodes are derived variables that cut a large scope into small ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from deskmend.choice.consistency import faults_of
from deskmend.choice.validation import (
    LARGEST_TABLE,
    BoolArray,
    IntArray,
    check_name,
    check_scope,
    integers,
    refuse,
    whole,
)


@dataclass(frozen=True)
class Option:
    """One way to settle a decision.

    Parameters
    ----------
    name : str
        Unique within its decision.
    use : mapping of str to int
        Units of each item it uses up [-].
    minutes : int
        Work it takes [min].
    is_fix : bool or None
        Whether it counts as a fix.  None: yes, unless it is the first option of its decision.

    Raises
    ------
    InvalidProblem
        When a number is negative or not whole.
    """

    name: str
    use: Mapping[str, int] = ()  # type: ignore[assignment]
    minutes: int = 0
    is_fix: bool | None = None

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        check_name(faults, "option", self.name)
        use = {
            item: whole(faults, f"option {self.name!r}: use of {item!r}", units)
            for item, units in dict(self.use).items()
        }
        minutes = whole(faults, f"option {self.name!r}: minutes", self.minutes)
        if self.is_fix not in (None, True, False):
            faults.append(f"option {self.name!r}: is_fix must be true, false or None, not {self.is_fix!r}")
        refuse(faults)
        object.__setattr__(self, "use", use)
        object.__setattr__(self, "minutes", minutes)


@dataclass(frozen=True)
class Decision:
    """A decision, of whose options exactly one is taken; the first means "keep as it is".

    Parameters
    ----------
    name : str
        Unique among decisions and nodes.
    options : sequence of Option
        At least one; their order is the catalog order that settles the last ties.

    Raises
    ------
    InvalidProblem
        When there is no option or two share a name.
    """

    name: str
    options: Sequence[Option]

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        check_name(faults, "decision", self.name)
        options = tuple(self.options)
        if not options:
            faults.append(f"decision {self.name!r} has no option")
        strangers = [option for option in options if not isinstance(option, Option)]
        faults.extend(f"decision {self.name!r}: {stranger!r} is not an Option" for stranger in strangers)
        if not strangers:
            names = [option.name for option in options]
            faults.extend(
                f"decision {self.name!r}: option {name!r} stands twice"
                for name in sorted({name for name in names if names.count(name) > 1})
            )
        refuse(faults)
        object.__setattr__(self, "options", options)


@dataclass(frozen=True)
class Item:
    """Something options use up, owned or bought in packs.

    The cost of a total use u is the least of q x price(q) over pack counts q that suffice, where all q
    packs get the price of the highest tier reached: ten may cost less than nine.

    Parameters
    ----------
    name : str
        Unique among items.
    price : int or None
        Price of a pack [minor units]; None: cannot be bought, only owned units count.
    pack : int
        Units in a pack [-].
    owned : int
        Units that cost nothing [-].
    stock : int or None
        Packs that may be bought [-]; None: any number.
    tiers : sequence of (int, int)
        (from_packs, price of each pack [minor units]).

    Raises
    ------
    InvalidProblem
        When a number is out of range, a tier stands twice or has no price to lower.
    """

    name: str
    price: int | None
    pack: int = 1
    owned: int = 0
    stock: int | None = None
    tiers: Sequence[tuple[int, int]] = ()

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        check_name(faults, "item", self.name)
        what = f"item {self.name!r}"
        set_ = object.__setattr__
        if self.price is not None:
            set_(self, "price", whole(faults, f"{what}: price", self.price))
        set_(self, "pack", whole(faults, f"{what}: pack", self.pack, least=1))
        set_(self, "owned", whole(faults, f"{what}: owned", self.owned))
        if self.stock is not None:
            set_(self, "stock", whole(faults, f"{what}: stock", self.stock))
        tiers = []
        for tier in self.tiers:
            if len(tuple(tier)) != 2:
                faults.append(f"{what}: a tier is (from_packs, price), not {tier!r}")
                continue
            start, price = tier
            tiers.append(
                (
                    whole(faults, f"{what}: from_packs of a tier", start, least=1),
                    whole(faults, f"{what}: price of a tier", price),
                )
            )
        tiers.sort()
        starts = [start for start, _ in tiers]
        if len(set(starts)) != len(starts):
            faults.append(f"{what}: two tiers start at the same number of packs")
        if tiers and self.price is None:
            faults.append(f"{what}: it has tiers but no price")
        refuse(faults)
        set_(self, "tiers", tuple(tiers))


@dataclass(frozen=True, eq=False)
class Table:
    """What each combination of the variables in scope adds to the value.

    Parameters
    ----------
    scope : tuple of str
        Decisions and nodes, one an axis.
    values : integer array
        One axis a variable; axis k has as many entries as variable k has options or states.
    when : (str, str or int) or None
        A decision and its option (a node and its state): the table counts only where that is taken.
    group : str
        A label, of no meaning here.
    """

    scope: tuple[str, ...]
    values: IntArray
    when: tuple[str, str | int] | None = None
    group: str = ""

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        what = f"table {self.scope!r}"
        object.__setattr__(self, "scope", check_scope(faults, what, self.scope))
        object.__setattr__(self, "values", integers(faults, what, self.values))
        if self.when is not None and len(tuple(self.when)) != 2:
            faults.append(f"{what}: when is a pair of variable and option, not {self.when!r}")
        refuse(faults)
        if self.when is not None:
            object.__setattr__(self, "when", tuple(self.when))


@dataclass(frozen=True, eq=False)
class Node:
    """A derived variable: its state follows from the variables in its scope.

    Parameters
    ----------
    name : str
        Unique among decisions and nodes.
    scope : tuple of str
        Decisions and nodes declared earlier.
    index : integer array
        The state for each combination, one axis a variable, entries in [0, size).
    size : int
        Number of states.
    """

    name: str
    scope: tuple[str, ...]
    index: IntArray
    size: int

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        what = f"node {self.name!r}"
        check_name(faults, "node", self.name)
        object.__setattr__(self, "scope", check_scope(faults, what, self.scope))
        index = integers(faults, what, self.index)
        size = whole(faults, f"{what}: size", self.size, least=1)
        if index.size and not faults and (index.min() < 0 or index.max() >= size):
            faults.append(f"{what}: the index must lie in 0..{size - 1}, found {index.min()}..{index.max()}")
        refuse(faults)
        object.__setattr__(self, "index", index)
        object.__setattr__(self, "size", size)


@dataclass(frozen=True, eq=False)
class Mask:
    """Combinations that are allowed; those with False are forbidden.

    Parameters
    ----------
    scope : tuple of str
        Decisions and nodes, one an axis.
    allowed : bool array
        One axis a variable.
    implied : bool
        Whether it only says what follows from the rest of the problem, for the engines' benefit.
    """

    scope: tuple[str, ...]
    allowed: BoolArray
    implied: bool = False

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        what = f"mask {self.scope!r}"
        object.__setattr__(self, "scope", check_scope(faults, what, self.scope))
        allowed = np.array(self.allowed)
        if allowed.dtype != np.bool_:
            faults.append(f"{what} must hold true and false, not {allowed.dtype}")
        if allowed.size > LARGEST_TABLE:
            faults.append(f"{what} has {allowed.size} cells; at most {LARGEST_TABLE} are allowed")
        refuse(faults)
        allowed.flags.writeable = False
        object.__setattr__(self, "allowed", allowed)


@dataclass(frozen=True, eq=False)
class Bound:
    """A side limit: the sum of these tables, which do not count in the value, may not exceed a number.

    Parameters
    ----------
    tables : sequence of Table
        Summed, gates respected.
    at_most : int
        The limit, in the unit of the tables.
    """

    tables: Sequence[Table]
    at_most: int

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        tables = tuple(self.tables)
        faults.extend(f"bound: {table!r} is not a Table" for table in tables if not isinstance(table, Table))
        at_most = whole(faults, "bound: at_most", self.at_most, least=None)
        refuse(faults)
        object.__setattr__(self, "tables", tables)
        object.__setattr__(self, "at_most", at_most)


@dataclass(frozen=True, eq=False)
class Problem:
    """Everything to choose from, what it is worth and what limits it.

    Order of preference: value, cost, minutes, number of fixes, catalog order (the lexicographically
    smallest tuple of option positions in decision order).  With ``first="cost"``: cost, minutes, value,
    fixes, catalog order.

    Parameters
    ----------
    decisions : sequence of Decision
        In catalog order.
    items : sequence of Item
        Everything options use.
    tables : sequence of Table
        Their sum is the value.
    forbidden : sequence of mapping
        Partial assignments {decision: option name} (a node: its state) that may not occur.
    money : int or None
        Limit of the cost [minor units].
    minutes : int or None
        Limit of the work [min].
    nodes : sequence of Node
        Derived variables, each after those in its scope.
    masks : sequence of Mask
        Combinations allowed.
    bounds : sequence of Bound
        Side limits.
    first : {"value", "cost"}
        What comes first in the order of preference.

    Raises
    ------
    InvalidProblem
        Listing every fault.
    """

    decisions: Sequence[Decision]
    items: Sequence[Item] = ()
    tables: Sequence[Table] = ()
    forbidden: Sequence[Mapping[str, str | int]] = ()
    money: int | None = None
    minutes: int | None = None
    nodes: Sequence[Node] = ()
    masks: Sequence[Mask] = ()
    bounds: Sequence[Bound] = ()
    first: Literal["value", "cost"] = "value"

    def __post_init__(self) -> None:
        """Check and normalise."""
        set_ = object.__setattr__
        for field in ("decisions", "items", "tables", "nodes", "masks", "bounds"):
            set_(self, field, tuple(getattr(self, field)))
        set_(self, "forbidden", tuple(dict(entry) for entry in self.forbidden))
        faults: list[str] = []
        for field, kind in (
            ("decisions", Decision),
            ("items", Item),
            ("tables", Table),
            ("nodes", Node),
            ("masks", Mask),
            ("bounds", Bound),
        ):
            faults.extend(
                f"{field}: {entry!r} is not a {kind.__name__}"
                for entry in getattr(self, field)
                if not isinstance(entry, kind)
            )
        if self.first not in ("value", "cost"):
            faults.append(f"first must be 'value' or 'cost', not {self.first!r}")
        for field in ("money", "minutes"):
            if getattr(self, field) is not None:
                set_(self, field, whole(faults, field, getattr(self, field)))
        refuse(faults)
        refuse(faults_of(self))

    def state_of(self, variable: str, state: str | int) -> int:
        """Position of an option in its decision, or the state of a node as given.

        Parameters
        ----------
        variable : str
            A decision or node.
        state : str or int
            Option name, or node state.

        Returns
        -------
        int
            Position, from 0 [-].

        Raises
        ------
        KeyError
            When there is no such variable or state.
        """
        for decision in self.decisions:
            if decision.name == variable:
                for position, option in enumerate(decision.options):
                    if option.name == state:
                        return position
                raise KeyError(state)
        for node in self.nodes:
            if node.name == variable:
                if isinstance(state, int) and not isinstance(state, bool) and 0 <= state < node.size:
                    return state
                raise KeyError(state)
        raise KeyError(variable)
