"""Quantities as pure functions that ask for what they need by parameter name, and their registry.

A function registered with :func:`quantity` may serve several roles at once: a
``target`` that is looked at (screen, second screen, paper), a ``hand``
activity (keys, mouse, writing) and a ``mode`` (sitting, standing). A parameter
takes the role of its caller, so one function serves every target,
and the scope of each result (what can change it) follows from the names alone.
Results are kept to a grid, so that no machine's last bit decides a tie.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from typing import Any, Generic, TypeVar

import numpy as np
import numpy.typing as npt

from deskmend.workstation.fields import SYMBOLS

__all__ = [
    "QUANTITIES",
    "ROLES",
    "Array",
    "Evaluation",
    "Key",
    "OneOfMany",
    "Quantity",
    "Registry",
    "Words",
    "angle",
    "derive",
    "quantity",
    "whole_mm",
]

T = TypeVar("T")

ROLES: dict[str, tuple[str, ...]] = {
    "target": ("screen", "second", "paper"),
    "hand": ("keys", "mouse", "writing"),
    "mode": ("sit", "stand"),
}
"""Roles and their cases."""

Key = tuple[str, tuple[tuple[str, str], ...]]
"""A quantity's name and the roles it is asked in, for example ('gaze_top', (('target', 'screen'),))."""


@dataclass(frozen=True)
class Quantity:
    """One registered function.

    Attributes
    ----------
    name : str
        Name of the quantity.
    unit : str
        ``mm``, ``deg`` or ``-``.
    only : mapping
        Roles that this function is written for, with their case.
    needs : tuple of str
        Parameter names.
    call : callable
        The function; pure, and broadcasting over numpy arrays.
    cut : bool
        Where exact tables are built, its values may stand for all that it hangs
        on. That keeps tables small and never changes a number.
    asks : mapping
        Roles in which it asks for what it needs, whoever calls: what the trunk
        does for the keys, for one, while the eyes are on the screen.
    """

    name: str
    unit: str
    only: Mapping[str, str]
    needs: tuple[str, ...]
    call: Callable[..., Any]
    cut: bool = False
    asks: Mapping[str, str] = field(default_factory=dict)


@dataclass(eq=False)
class Asked:
    """A quantity in the roles that matter for it, and what its function needs.

    Attributes
    ----------
    key : tuple
        Name and roles.
    entry : Quantity
        The function that answers.
    registry : Registry
        Where it stands.
    """

    key: Key
    entry: Quantity
    registry: Registry

    @cached_property
    def needs(self) -> tuple[Asked | str, ...]:
        """What its function needs, in order: quantities in the roles they are asked in, or symbols of fields.

        Raises
        ------
        KeyError
            No function fits what is needed.
        """
        roles = {**dict(self.key[1]), **self.entry.asks}
        known = self.registry.quantities
        return tuple(self.registry.asked(need, roles) if need in known else need for need in self.entry.needs)


@dataclass
class Registry:
    """All quantities of a model, by name."""

    quantities: dict[str, list[Quantity]] = field(default_factory=dict)
    _roles: dict[str, frozenset[str]] = field(default_factory=dict, repr=False)
    _asked: dict[Key, Asked] = field(default_factory=dict, repr=False)
    _said: dict[tuple[str, tuple[tuple[str, str], ...]], Asked] = field(default_factory=dict, repr=False)

    def quantity(
        self,
        unit: str,
        name: str | None = None,
        cut: bool = False,
        asks: Mapping[str, str] | None = None,
        **only: str | tuple[str, ...],
    ) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
        """Register the decorated function.

        Parameters
        ----------
        unit : str
            Unit of the result.
        name : str, optional
            Name of the quantity if not the function's own.
        cut : bool
            See :class:`Quantity`.
        asks : mapping, optional
            See :class:`Quantity`.
        **only : str or tuple of str
            Roles the function is written for, with the case or cases, as ``target="paper"``.
        """

        def register(function: Callable[..., Any]) -> Callable[..., Any]:
            label, needs = name or function.__name__, tuple(inspect.signature(function).parameters)
            cases = [(case,) if isinstance(case, str) else case for case in only.values()]
            for roles in product(*cases):
                own = dict(zip(only, roles, strict=True))
                self._add(Quantity(label, unit, own, needs, function, cut, dict(asks or {})))
            return function

        return register

    def derive(
        self,
        name: str,
        unit: str,
        need: str,
        call: Callable[[Any], Any] = np.asarray,
        cut: bool = False,
        **only: str,
    ) -> None:
        """Register a quantity that is another one, or a field, as it is or as a function makes it."""
        self._add(Quantity(name, unit, only, (need,), call, cut))

    def _add(self, entry: Quantity) -> None:
        self.quantities.setdefault(entry.name, []).append(entry)
        self._roles.clear()
        self._asked.clear()
        self._said.clear()

    def roles_of(self, name: str) -> frozenset[str]:
        """Roles that matter for a quantity: its own and those of all it needs."""
        if name not in self._roles:
            out: set[str] = set()
            for entry in self.quantities[name]:
                out |= set(entry.only)
                for need in entry.needs:
                    if need in self.quantities:
                        out |= self.roles_of(need) - set(entry.asks)
            self._roles[name] = frozenset(out)
        return self._roles[name]

    def find(self, name: str, roles: Mapping[str, str]) -> Quantity:
        """Function that computes a quantity in the given roles.

        Raises
        ------
        KeyError
            No function fits.
        """
        for entry in self.quantities[name]:
            if all(roles.get(role) == case for role, case in entry.only.items()):
                return entry
        raise KeyError(f"{name} in {dict(roles)}")

    def key(self, name: str, roles: Mapping[str, str]) -> Key:
        """Name together with just those roles that matter for it."""
        return name, tuple(sorted((r, roles[r]) for r in self.roles_of(name)))

    def asked(self, name: str, roles: Mapping[str, str]) -> Asked:
        """Quantity in the roles that matter for it, one object for each.

        Raises
        ------
        KeyError
            No function fits.
        """
        said = name, tuple(roles.items())
        if said not in self._said:
            key = self.key(name, roles)
            if key not in self._asked:
                self._asked[key] = Asked(key, self.find(name, roles), self)
            self._said[said] = self._asked[key]
        return self._said[said]

    def leaves(
        self, name: str, roles: Mapping[str, str], idle: Collection[tuple[str, str]] = ()
    ) -> frozenset[str]:
        """Symbols of the fields on which a quantity depends in the given roles.

        ``idle`` names a quantity and one that it needs, but makes nothing of in this state.
        """
        entry = self.find(name, roles)
        out: set[str] = set()
        for need in entry.needs:
            if (entry.name, need) in idle:
                continue
            if need in self.quantities:
                out |= self.leaves(need, {**roles, **entry.asks}, idle)
            else:
                out.add(need)
        return frozenset(out)

    def __iter__(self) -> Iterator[Quantity]:
        """Every registered function."""
        for entries in self.quantities.values():
            yield from entries

    def faults(self) -> list[str]:
        """Parameters that name neither a quantity nor a field, and names that are both."""
        out = [
            f"{entry.name} asks for {need}, which is neither a quantity nor a field"
            for entry in self
            for need in entry.needs
            if need not in self.quantities and need not in SYMBOLS
        ]
        return out + [f"{name} is both a quantity and a field" for name in self.quantities if name in SYMBOLS]


class Evaluation(Generic[T]):
    """Computes quantities once each, in any number type.

    Parameters
    ----------
    registry : Registry
        The functions.
    leaf : callable
        Gives the value of a field by its symbol.
    apply : callable
        Calls a function on values: ``apply(key, function, arguments)``. For
        plain numbers that is a call; the table builder broadcasts instead.
    constant : callable
        Makes a value of a plain number.
    is_zero : callable
        True where a value is 0 whatever is decided.
    """

    def __init__(
        self,
        registry: Registry,
        leaf: Callable[[str], T],
        apply: Callable[[Key, Callable[..., Any], list[T]], T],
        constant: Callable[[float], T],
        is_zero: Callable[[T], bool],
    ) -> None:
        self._registry = registry
        self._leaf = leaf
        self._apply = apply
        self.constant = constant
        self.is_zero = is_zero
        self._known: dict[Asked | Key, T] = {}
        self._leaves: dict[str, T] = {}

    def __call__(self, name: str, **roles: str) -> T:
        """Value of a quantity or field in the given roles."""
        return self._value(self._registry.asked(name, roles) if name in self._registry.quantities else name)

    def _value(self, asked: Asked | str) -> T:
        if isinstance(asked, str):
            if asked not in self._leaves:
                self._leaves[asked] = self._leaf(asked)
            return self._leaves[asked]
        if asked not in self._known:
            arguments = [self._value(need) for need in asked.needs]
            self._known[asked] = self._apply(asked.key, asked.entry.call, arguments)
        return self._known[asked]

    def arguments(self, entry: Quantity, roles: Mapping[str, str]) -> list[T]:
        """Values of what a function needs, in the roles in which it is asked."""
        asked = {**roles, **entry.asks}
        return [self(need, **asked) for need in entry.needs]

    def compute(self, key: Key, function: Callable[..., Any], arguments: list[T]) -> T:
        """Result of a function that is not in the registry, under a key of its own."""
        if key not in self._known:
            self._known[key] = self._apply(key, function, arguments)
        return self._known[key]


class OneOfMany(Evaluation[Any]):
    """Quantities of one state of many that are worked out together, in plain numbers.

    Parameters
    ----------
    many : Evaluation
        Gives arrays with one value a state.
    place : int
        Which of the states it is.
    """

    def __init__(self, many: Evaluation[Any], place: int) -> None:
        super().__init__(many._registry, many._leaf, many._apply, many.constant, many.is_zero)
        self._many, self._place = many, place

    def _value(self, asked: Asked | str) -> Any:
        known: dict[Any, Any] = self._leaves if isinstance(asked, str) else self._known
        if asked not in known:
            value = self._many._value(asked)
            known[asked] = value[self._place] if np.ndim(value) else value
        return known[asked]


Array = npt.NDArray[np.float64]
Words = npt.NDArray[np.str_]

QUANTITIES = Registry()
"""Every quantity of the model."""

quantity = QUANTITIES.quantity
derive = QUANTITIES.derive


def whole_mm(length: Any) -> Array:
    """Length kept to the whole millimetre [mm]; a tape and a cushion know no finer."""
    return np.asarray(np.rint(length))


def angle(degrees: Any) -> Array:
    """Angle kept to a millionth of a degree [deg], so that no machine's last bit decides a tie."""
    return np.asarray(np.round(degrees, 6))
