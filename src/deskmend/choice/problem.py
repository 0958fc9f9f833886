"""The problem of choice, free of any domain: decisions, options, items and exact integer tables.

Everything is an integer and the least value wins.  A decision takes exactly one of its options.  Tables
give what every combination of a few decisions contributes to the value.  Items are bought in packs for the
total use of the options taken.  Nodes are derived variables that cut a large scope into small ones.

Every record checks itself when it is made, and a problem that its records fit together; all faults are told
at once.
"""

from __future__ import annotations

import operator
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Literal, SupportsIndex, TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.measures import Minor, Minutes

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

LARGEST_TOTAL = 2**60
"""No sum of values, money, minutes or use may reach beyond this, so that 64 bits always suffice."""

LARGEST_TABLE = 4_000_000
"""Cells one table, node or mask may have."""


class InvalidProblem(ValueError):
    """A problem that cannot be meant; ``faults`` lists everything wrong with it, a plain sentence a fault."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(self.faults))


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
    minutes: Minutes = 0
    is_fix: bool | None = None

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        _check_name(faults, "option", self.name)
        use = {
            item: _whole(faults, f"option {self.name!r}: use of {item!r}", units)
            for item, units in dict(self.use).items()
        }
        minutes = _whole(faults, f"option {self.name!r}: minutes", self.minutes)
        if self.is_fix not in (None, True, False):
            faults.append(f"option {self.name!r}: is_fix must be true, false or None, not {self.is_fix!r}")
        _refuse(faults)
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

    def is_fix(self, position: int) -> bool:
        """Whether the option at a position counts as a fix."""
        told = self.options[position].is_fix
        return position > 0 if told is None else told

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        _check_name(faults, "decision", self.name)
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
        _refuse(faults)
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
    price: Minor | None
    pack: int = 1
    owned: int = 0
    stock: int | None = None
    tiers: Sequence[tuple[int, Minor]] = ()

    def __post_init__(self) -> None:
        """Check and normalise."""
        faults: list[str] = []
        _check_name(faults, "item", self.name)
        what = f"item {self.name!r}"
        set_ = object.__setattr__
        if self.price is not None:
            set_(self, "price", _whole(faults, f"{what}: price", self.price))
        set_(self, "pack", _whole(faults, f"{what}: pack", self.pack, least=1))
        set_(self, "owned", _whole(faults, f"{what}: owned", self.owned))
        if self.stock is not None:
            set_(self, "stock", _whole(faults, f"{what}: stock", self.stock))
        tiers = []
        for tier in self.tiers:
            if len(tuple(tier)) != 2:
                faults.append(f"{what}: a tier is (from_packs, price), not {tier!r}")
                continue
            start, price = tier
            tiers.append(
                (
                    _whole(faults, f"{what}: from_packs of a tier", start, least=1),
                    _whole(faults, f"{what}: price of a tier", price),
                )
            )
        tiers.sort()
        starts = [start for start, _ in tiers]
        if len(set(starts)) != len(starts):
            faults.append(f"{what}: two tiers start at the same number of packs")
        if tiers and self.price is None:
            faults.append(f"{what}: it has tiers but no price")
        _refuse(faults)
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
        object.__setattr__(self, "scope", _check_scope(faults, what, self.scope))
        object.__setattr__(self, "values", _integers(faults, what, self.values))
        if self.when is not None and len(tuple(self.when)) != 2:
            faults.append(f"{what}: when is a pair of variable and option, not {self.when!r}")
        _refuse(faults)
        if self.when is not None:
            object.__setattr__(self, "when", tuple(self.when))

    @cached_property
    def reach(self) -> int:
        """Largest magnitude of any entry."""
        return int(np.abs(self.values).max()) if self.values.size else 0


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
        _check_name(faults, "node", self.name)
        object.__setattr__(self, "scope", _check_scope(faults, what, self.scope))
        index = _integers(faults, what, self.index)
        size = _whole(faults, f"{what}: size", self.size, least=1)
        if index.size and not faults and (index.min() < 0 or index.max() >= size):
            faults.append(f"{what}: the index must lie in 0..{size - 1}, found {index.min()}..{index.max()}")
        _refuse(faults)
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
        object.__setattr__(self, "scope", _check_scope(faults, what, self.scope))
        allowed = np.array(self.allowed)
        if allowed.dtype != np.bool_:
            faults.append(f"{what} must hold true and false, not {allowed.dtype}")
        if allowed.size > LARGEST_TABLE:
            faults.append(f"{what} has {allowed.size} cells; at most {LARGEST_TABLE} are allowed")
        _refuse(faults)
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
        at_most = _whole(faults, "bound: at_most", self.at_most, least=None)
        _refuse(faults)
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

    Examples
    --------
    >>> lamp = Decision("lamp", [Option("off"), Option("on", {"candle": 2}, minutes=5)])
    >>> candle = Item("candle", price=150, pack=4)
    >>> Problem([lamp], [candle], [Table(("lamp",), [8, 3])], money=200).state_of("lamp", "on")
    1
    >>> Problem([lamp], [candle], [Table(("lamp",), [8, 3, 1])])
    Traceback (most recent call last):
    ...
    deskmend.choice.problem.InvalidProblem: table ('lamp',): the array has shape (3,), its scope needs (2,)
    """

    decisions: Sequence[Decision]
    items: Sequence[Item] = ()
    tables: Sequence[Table] = ()
    forbidden: Sequence[Mapping[str, str | int]] = ()
    money: Minor | None = None
    minutes: Minutes | None = None
    nodes: Sequence[Node] = ()
    masks: Sequence[Mask] = ()
    bounds: Sequence[Bound] = ()
    first: Literal["value", "cost"] = "value"

    def __post_init__(self) -> None:
        """Check and normalise."""
        set_ = object.__setattr__
        set_(self, "forbidden", tuple(dict(entry) for entry in self.forbidden))
        faults: list[str] = []
        for field, kind in RECORDS.items():
            set_(self, field, tuple(getattr(self, field)))
            faults.extend(
                f"{field}: {entry!r} is not a {kind.__name__}"
                for entry in getattr(self, field)
                if not isinstance(entry, kind)
            )
        if self.first not in ("value", "cost"):
            faults.append(f"first must be 'value' or 'cost', not {self.first!r}")
        for field in ("money", "minutes"):
            if getattr(self, field) is not None:
                set_(self, field, _whole(faults, field, getattr(self, field)))
        _refuse(faults)
        _refuse(_Consistency(self).faults())

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
        if variable in self._positions:
            return self._positions[variable][state]
        size = next((node.size for node in self.nodes if node.name == variable), None)
        if size is None:
            raise KeyError(variable)
        if isinstance(state, int) and not isinstance(state, bool) and 0 <= state < size:
            return state
        raise KeyError(state)

    @cached_property
    def forbidden_states(self) -> list[tuple[tuple[str, int], ...]]:
        """Each of what is forbidden, with positions in place of option names."""
        return [tuple((name, self.state_of(name, one)) for name, one in e.items()) for e in self.forbidden]

    @cached_property
    def _positions(self) -> dict[str, dict[str | int, int]]:
        """Position of each option of each decision."""
        return {d.name: {option.name: k for k, option in enumerate(d.options)} for d in self.decisions}


R = TypeVar("R", Option, Decision, Table, Node, Mask, Bound, Problem)


def part_of(record: R, **parts: object) -> R:
    """A valid record with parts of what it holds, or with what fits as well; it is not checked again.

    Whoever asks sees to it that all of it fits together; arrays are made read-only.
    """
    made = object.__new__(type(record))
    for field in fields(record):
        value = parts[field.name] if field.name in parts else getattr(record, field.name)
        if isinstance(value, np.ndarray):
            value.flags.writeable = False
        object.__setattr__(made, field.name, value)
    return made


RECORDS = {
    "decisions": Decision,
    "items": Item,
    "tables": Table,
    "nodes": Node,
    "masks": Mask,
    "bounds": Bound,
}

# --- reading and checking -----------------------------------------------------------------------------


def _refuse(faults: Sequence[str]) -> None:
    """Raise InvalidProblem when there are faults."""
    if faults:
        raise InvalidProblem(faults)


def _check_name(faults: list[str], what: str, name: object) -> None:
    """Note a fault when a name is no text or empty."""
    if not isinstance(name, str) or not name:
        faults.append(f"{what}: the name must be a text that is not empty, not {name!r}")


def _whole(faults: list[str], what: str, number: object, least: int | None = 0) -> int:
    """Read a whole number and note a fault when it is none or out of range."""
    # The plain check comes first: the one against a protocol costs as much as all else here.
    if type(number) is not int and (isinstance(number, bool) or not isinstance(number, SupportsIndex)):
        faults.append(f"{what} must be a whole number, not {number!r}")
        return 0
    read = operator.index(number)
    if least is not None and read < least:
        faults.append(f"{what} must be at least {least}, not {read}")
        return least
    if abs(read) > LARGEST_TOTAL:
        faults.append(f"{what} must lie within {LARGEST_TOTAL}, not {read}")
        return 0
    return read


def _integers(faults: list[str], what: str, values: object) -> IntArray:
    """Read an array of whole numbers as a read-only copy."""
    array = np.asarray(values)
    if array.dtype.kind not in "iu" or (
        array.dtype.kind == "u" and array.size and array.max() > LARGEST_TOTAL
    ):
        faults.append(f"{what} must hold whole numbers of at most 64 bits, not {array.dtype}")
        return np.zeros(array.shape, dtype=np.int64)
    if array.size > LARGEST_TABLE:
        faults.append(f"{what} has {array.size} cells; at most {LARGEST_TABLE} are allowed")
        return np.zeros(array.shape, dtype=np.int64)
    copy = array.astype(np.int64)
    if copy.size and (copy.min() < -LARGEST_TOTAL or copy.max() > LARGEST_TOTAL):
        faults.append(f"{what} must stay within {LARGEST_TOTAL}")
        return np.zeros(array.shape, dtype=np.int64)
    copy.flags.writeable = False
    return copy


def _check_scope(faults: list[str], what: str, scope: Iterable[str]) -> tuple[str, ...]:
    """Read a scope and note a fault when a name stands twice."""
    if isinstance(scope, str):
        faults.append(f"{what}: the scope must be a tuple of names, not the text {scope!r}")
        return (scope,)
    names = tuple(scope)
    if len(set(names)) != len(names):
        faults.append(f"{what}: a name stands twice in the scope {names}")
    return names


class _Consistency:
    """What of a problem contradicts something else in it; its records are each valid by themselves."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.found: list[str] = []
        self.sizes: dict[str, int] = {}
        self.options: dict[str, list[str]] = {}

    def faults(self) -> list[str]:
        problem = self.problem
        for decision in problem.decisions:
            self._declare(decision.name, len(decision.options))
            self.options[decision.name] = [option.name for option in decision.options]
        for node in problem.nodes:
            self._fits(f"node {node.name!r}", node.scope, node.index)
            self._declare(node.name, node.size)
        for table in problem.tables:
            self._table(f"table {table.scope!r}", table)
        for number, bound in enumerate(problem.bounds):
            for table in bound.tables:
                self._table(f"bound {number}, table {table.scope!r}", table)
        for mask in problem.masks:
            self._fits(f"mask {mask.scope!r}", mask.scope, mask.allowed)
        for number, entry in enumerate(problem.forbidden):
            if not entry:
                self.found.append(f"forbidden {number} is empty and would forbid everything")
            for variable, state in entry.items():
                self._state(f"forbidden {number}", variable, state)
        self._items()
        self._totals()
        return self.found

    def _declare(self, name: str, size: int) -> None:
        if name in self.sizes:
            self.found.append(f"the name {name!r} is used for two decisions or nodes")
        self.sizes[name] = size

    def _fits(self, what: str, scope: tuple[str, ...], array: IntArray | BoolArray) -> None:
        unknown = [name for name in scope if name not in self.sizes]
        if unknown:
            self.found.extend(f"{what}: {name!r} is no decision or earlier node" for name in unknown)
            return
        wanted = tuple(self.sizes[name] for name in scope)
        if array.shape != wanted:
            self.found.append(f"{what}: the array has shape {array.shape}, its scope needs {wanted}")

    def _state(self, what: str, variable: str, state: object) -> None:
        if variable not in self.sizes:
            self.found.append(f"{what}: {variable!r} is no decision or node")
        elif variable in self.options:
            if state not in self.options[variable]:
                self.found.append(f"{what}: {variable!r} has no option {state!r}")
        elif isinstance(state, bool) or not isinstance(state, int) or not 0 <= state < self.sizes[variable]:
            self.found.append(f"{what}: node {variable!r} has no state {state!r}")

    def _table(self, what: str, table: Table) -> None:
        self._fits(what, table.scope, table.values)
        if table.when is not None:
            self._state(what, *table.when)

    def _items(self) -> None:
        names = [item.name for item in self.problem.items]
        for name in sorted({name for name in names if names.count(name) > 1}):
            self.found.append(f"item {name!r} stands twice")
        known = set(names)
        for decision in self.problem.decisions:
            for option in decision.options:
                for item in sorted(set(option.use) - known):
                    self.found.append(f"{decision.name!r}, option {option.name!r}: item {item!r} is unknown")

    def _totals(self) -> None:
        if self.found:
            return
        problem = self.problem
        self._total("the values", _reach(problem.tables))
        for number, bound in enumerate(problem.bounds):
            self._total(f"the tables of bound {number}", _reach(bound.tables))
        self._total("the minutes", sum(max(o.minutes for o in d.options) for d in problem.decisions))
        cost, most = 0, most_used(problem)
        for item in problem.items:
            use = most[item.name]
            self._total(f"the use of item {item.name!r}", use)
            starts = [start for start, _ in item.tiers]
            prices = [item.price or 0, *(price for _, price in item.tiers)]
            cost += max([-(-use // item.pack), *starts]) * max(prices)
        self._total("the cost", cost)

    def _total(self, what: str, total: int) -> None:
        if total > LARGEST_TOTAL:
            self.found.append(f"{what} may add up to {total}, beyond {LARGEST_TOTAL}")


def _reach(tables: Sequence[Table]) -> int:
    return sum(table.reach for table in tables)


def most_used(problem: Problem) -> Counter[str]:
    """Add up the most of each item that the decisions could use together; rules are not looked at."""
    most: Counter[str] = Counter()
    for decision in problem.decisions:
        largest: dict[str, int] = {}
        for option in decision.options:
            for name, units in option.use.items():
                largest[name] = max(units, largest.get(name, 0))
        most.update(largest)
    return most
