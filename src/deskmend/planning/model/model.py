"""The exact model of a case: every option's effect on every exposure, as tables over decisions.

Every cell is a call of the very functions that score a state, so choosing and
scoring cannot differ. What changes together is found from the parameter names
of the posture functions; nothing is listed by hand.

How large the exact model of a case is: what a reader needs to judge what a proof was taken over.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Any

import numpy as np

from deskmend.choice import Decision, Item, Mask, Node, Option, Problem, Table
from deskmend.intake.case import Case
from deskmend.intake.catalog_records import Fix
from deskmend.intake.prices import PriceTable
from deskmend.planning.model.conditions import Gate, least_clearance
from deskmend.planning.model.offers import KEEP, Offer, Offers, OptionSpec, piece_item
from deskmend.planning.model.tables import AnyArray, Grid, GridBuilder, absorbed, added_up, constant
from deskmend.risk.strain import strain_terms
from deskmend.workstation.effects import Change, TwoSets, settle
from deskmend.workstation.fields import FIELDS, SYMBOLS, Value
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import Slot, State, owner_of

__all__ = ["Model", "TableSizes", "Term", "add_terms", "carrier_name", "items_of", "sizes_of", "start_model"]


@dataclass(frozen=True)
class TableSizes:
    """Sizes of a problem.

    Attributes
    ----------
    decisions, options : int
        Decisions, and options in all of them; to keep things as they are is one of each [-].
    nodes : int
        Derived variables that stand for what hangs on several decisions [-].
    tables, cells, largest : int
        Tables of strain, their cells together, and those of the largest [-].
    """

    decisions: int
    options: int
    nodes: int
    tables: int
    cells: int
    largest: int


def sizes_of(problem: Problem) -> TableSizes:
    """Measure a problem as it is handed to the engines, before they reduce it.

    Parameters
    ----------
    problem : Problem
        The problem.
    """
    cells = [table.values.size for table in problem.tables]
    return TableSizes(
        len(problem.decisions),
        sum(len(decision.options) for decision in problem.decisions),
        len(problem.nodes),
        len(cells),
        sum(cells),
        max(cells, default=0),
    )


Weights = Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Term:
    """Strain of one exposure of one task at one place, over its scope [millionths of h/day]."""

    task: str
    place: str
    exposure: str
    region: str
    gate: Gate | None
    grid: Grid


def carrier_name(fix: str) -> str:
    """Decision that says whether a carried fix is had at all."""
    return f"carry.{fix}"


@dataclass
class Model:
    """Grids, nodes and terms of one case.

    Attributes
    ----------
    state : State
        Before any fix.
    offers : Offers
        What can be chosen.
    builder : GridBuilder
        Variables and nodes.
    terms : list of Term
        All strain, exposure by exposure.
    masks : list of Mask
        What cannot go together.
    """

    state: State
    offers: Offers
    builder: GridBuilder = field(default_factory=GridBuilder)
    terms: list[Term] = field(default_factory=list)
    masks: list[Mask] = field(default_factory=list)
    _slots: dict[Slot, Grid] = field(default_factory=dict)
    _constants: dict[str, Grid] = field(default_factory=dict)
    _evaluations: dict[tuple[str, str], Evaluation[Grid]] = field(default_factory=dict)

    @cached_property
    def touching(self) -> dict[Slot, list[Offer]]:
        """Decisions that can change each slot."""
        out: dict[Slot, list[Offer]] = {}
        for offer in self.offers.decisions:
            for slot in dict.fromkeys(c.slot for option in offer.options for c in option.changes):
                out.setdefault(slot, []).append(offer)
        return out

    def places_of(self, task: str) -> list[tuple[str, Gate | None]]:
        """Places where a task can be done, with the option that puts it there."""
        for offer in self.offers.decisions:
            if offer.owner == ("task", task) and any(o.moves_to for o in offer.options):
                moved = [(o.moves_to, (offer.name, o.name)) for o in offer.options if o.moves_to]
                return [(self.state.place_of[task], (offer.name, KEEP)), *((str(p), g) for p, g in moved)]
        return [(self.state.place_of[task], None)]

    def slot(self, slot: Slot) -> Grid:
        """Value of a field over the decisions that change it."""
        if slot not in self._slots:
            self._slots[slot] = self._settled(slot)
        return self._slots[slot]

    def _settled(self, slot: Slot) -> Grid:
        start = self.state.values[slot]
        offers = self.touching.get(slot, [])
        if not offers:
            return self._constants.setdefault(repr(start), constant(_typed(slot, start)))
        return self._changed(slot, offers, partial(settled_or_first, start))

    def _changed(self, slot: Slot, offers: list[Offer], settled: Callable[[Sequence[Change]], Any]) -> Grid:
        """Grid of a field that some decisions change; two that set it at once are forbidden."""
        label = f"{slot[0][1] or slot[0][0]}:{slot[1]}"
        groups, arguments = [], []
        for offer in offers:
            kinds: dict[tuple[Any, ...], int] = {}
            index = []
            for option in (None, *offer.options):
                changes = tuple(c for c in option.changes if c.slot == slot) if option else ()
                index.append(kinds.setdefault(changes, len(kinds)))
            groups.append(list(kinds))
            raw = Grid((offer.name,), self.alike(index))
            arguments.append(self.builder.apply(f"{label}@{offer.name}", _same, [raw]))

        def settle_all(*picked: AnyArray) -> AnyArray:
            shape = np.broadcast_shapes(*(np.shape(p) for p in picked))
            spread = [np.broadcast_to(p, shape).ravel() for p in picked]
            known: dict[tuple[int, ...], Any] = {}
            out = []
            for combo in zip(*(s.tolist() for s in spread), strict=True):
                if combo not in known:
                    changes = [c for group, k in zip(groups, combo, strict=True) for c in group[k]]
                    known[combo] = settled(changes)
                out.append(known[combo])
            return self.filled(slot, out, shape)

        def sound(*picked: AnyArray) -> AnyArray:
            sets = [np.array([sum(c.operation == "set" for c in g) for g in group]) for group in groups]
            total: AnyArray = np.asarray(sum(s[p] for s, p in zip(sets, picked, strict=True)))
            return total <= 1

        if len(offers) > 1:
            clashes = self.builder.apply("", sound, arguments, node=False)
            self.forbid_unless(clashes)
        return self.builder.apply(label, settle_all, arguments)

    def evaluation(self, task: str, place: str) -> Evaluation[Grid]:
        """Quantities of a task at a place, as grids."""
        if (task, place) not in self._evaluations:

            def leaf(symbol: str) -> Grid:
                known = SYMBOLS[symbol]
                return self.slot((owner_of(known.level, task, place), known.name))

            def apply(key: Any, function: Callable[..., Any], arguments: list[Grid]) -> Grid:
                label = f"{place}:{key[0]}" + "".join(f".{case}" for _, case in key[1])
                if key[0].startswith("strain:"):
                    return self.builder.apply("", function, arguments, node=False)
                entry = QUANTITIES.find(key[0], dict(key[1]))
                return self.builder.apply(label, function, arguments, node=entry.cut)

            self._evaluations[task, place] = Evaluation(QUANTITIES, leaf, apply, self.constant, _is_zero)
        return self._evaluations[task, place]

    def chosen(self, offer: Offer, fix: Fix) -> Grid:
        """True where a decision takes a fix, at any size."""
        return Grid((offer.name,), self.alike([False, *(option.fix is fix for option in offer.options)]))

    def gate(self, gate: Gate | None) -> Grid:
        """True where a gate is open."""
        if gate is None:
            return self.constant(True)
        offer = next(o for o in self.offers.decisions if o.name == gate[0])
        names = [KEEP, *(option.name for option in offer.options)]
        return Grid((offer.name,), self.alike([name == gate[1] for name in names]))

    def constant(self, value: Any) -> Grid:
        """Grid of one value."""
        return Grid((), self.alike(value))

    def alike(self, values: Any) -> AnyArray:
        """Values over some decisions, as the builder holds them."""
        return np.asarray(values)

    def filled(self, slot: Slot, settled: Sequence[Any], shape: tuple[int, ...]) -> AnyArray:
        """Array of settled values of a field."""
        return np.array(settled, dtype=float if FIELDS[slot[1]].is_number else np.str_).reshape(shape)

    def least_clearance(self, place: str) -> Grid:
        """Free height over the legs that a plan has to leave [mm]."""
        return self.constant(least_clearance(self.state, place))

    def impossible(self) -> dict[str, list[str]]:
        """Options that a rule rules out whatever else is chosen, by decision."""
        out: dict[str, list[str]] = {}
        for mask in self.masks:
            if len(mask.scope) == 1:
                for offer in self.offers.decisions:
                    if offer.name == mask.scope[0]:
                        bad = [
                            o.name
                            for o, good in zip(offer.options, mask.allowed[1:], strict=True)
                            if not good
                        ]
                        out.setdefault(offer.name, []).extend(bad)
        return {name: bad for name, bad in out.items() if bad}

    def forbid_unless(self, allowed: Grid) -> None:
        """Forbid every combination where a grid is False."""
        if not allowed.is_constant and not bool(np.all(allowed.values)):
            mask = Mask(allowed.scope, np.array(allowed.values, dtype=np.bool_))
            self.masks.append(mask)
            self.builder.rule(mask)

    # --- the problem -----------------------------------------------------------------------------

    def problem(
        self, case: Case, prices: PriceTable | None, money: int | None, minutes: int | None
    ) -> Problem:
        """The choice with all strain as its value.

        Parameters
        ----------
        case : Case
            For what is owned.
        prices : PriceTable or None
            What can be bought; None: everything costs nothing.
        money : int or None
            Limit of the cost [minor units].
        minutes : int or None
            Limit of the work [min].
        """
        decisions, forbidden = self._decisions()
        items = items_of(decisions, case, prices)
        tables, nodes = absorbed(_tables(self.terms), self.builder.nodes, self.masks)
        reached = self._reached(tables, nodes)
        return Problem(decisions, items, tables, forbidden, money, minutes, nodes, (*self.masks, *reached))

    def _reached(self, tables: list[Table], nodes: list[Node]) -> list[Mask]:
        """Masks that leave out, of every table and node, what no choice can reach."""
        out = []
        for scope in dict.fromkeys((*(t.scope for t in tables), *(n.scope for n in nodes))):
            reach = self.builder.reach(scope) if len(scope) > 1 else None
            if reach is not None:
                out.append(Mask(scope, reach, implied=True))
        return out

    def _decisions(self) -> tuple[list[Decision], list[dict[str, str | int]]]:
        decisions: list[Decision] = []
        carriers: dict[str, OptionSpec] = {}
        forbidden: list[dict[str, str | int]] = []
        count = {level: len(ids) for level, ids in (("place", self.state.places), ("task", self.state.tasks))}
        for offer in self.offers.decisions:
            options = [Option(KEEP)]
            for option in offer.options:
                shared = option.fix.carried and count.get(offer.owner[0], 1) > 1
                if shared:
                    carriers[option.fix.id] = option
                    forbidden.append({offer.name: option.name, carrier_name(option.fix.id): "no"})
                use = {} if shared else option.use
                options.append(Option(option.name, use=use, minutes=0 if shared else option.fix.minutes))
            decisions.append(Decision(offer.name, options))
        for fix, option in carriers.items():
            had = Option("yes", use=option.use, minutes=option.fix.minutes, is_fix=False)
            decisions.append(Decision(carrier_name(fix), [Option("no"), had]))
        return decisions, forbidden

    @property
    def fixed_strain(self) -> int:
        """Strain that nothing on offer changes [millionths of h/day]."""
        return sum(int(t.grid.values) for t in self.terms if t.grid.is_constant and t.gate is None)


def _is_zero(grid: Grid) -> bool:
    return grid.is_constant and bool(np.all(grid.values == 0))


def _same(values: AnyArray) -> AnyArray:
    return values


def _typed(slot: Slot, value: Value) -> Any:
    return np.float64(value) if FIELDS[slot[1]].is_number else np.str_(value)


def settled_or_first(start: Value, changes: Sequence[Change]) -> Value:
    """Value of a field after changes; of two that set it, which is forbidden, the first counts."""
    try:
        return settle(start, list(changes))
    except TwoSets:
        # Forbidden by a mask; any value will do for a cell that cannot be taken.
        first = next(c for c in changes if c.operation == "set")
        return settle(start, [c for c in changes if c.operation != "set" or c is first])


def items_of(decisions: Sequence[Decision], case: Case, prices: PriceTable | None) -> list[Item]:
    """Items that options use up, with what a pack costs and what is owned.

    Parameters
    ----------
    decisions : sequence of Decision
        With all their options.
    case : Case
        For what is owned.
    prices : PriceTable or None
        What can be bought; None: everything costs nothing.
    """
    used = dict.fromkeys(item for d in decisions for o in d.options for item in o.use)
    owned: dict[str, int] = {}
    for name, own in case.owns.items():
        owned[name] = own.count
        for piece in own.pieces:
            stock = piece_item(name, piece)
            owned[stock] = owned.get(stock, 0) + 1
    out = []
    for item in used:
        priced = prices.items.get(item) if prices is not None else None
        if prices is None and ":" not in item:
            out.append(Item(item, price=0, owned=owned.get(item, 0)))
        elif priced is None:
            out.append(Item(item, price=None, owned=owned.get(item, 0)))
        else:
            tiers = [(tier.from_packs, tier.price) for tier in priced.tiers]
            out.append(
                Item(item, priced.price, priced.pack, owned.get(item, 0), stock=priced.stock, tiers=tiers)
            )
    return out


def _tables(terms: list[Term]) -> list[Table]:
    """Terms as tables; those that nothing changes are left to ``fixed_strain``."""
    found = [(t.grid.scope, t.grid.values, t.gate) for t in terms if t.grid.scope or t.gate is not None]
    return added_up([Table(scope, np.asarray(values), when=gate) for scope, values, gate in found])


def start_model(state: State, offers: Offers) -> Model:
    """Model of a case with its decisions; rules, then terms, are added to it.

    Parameters
    ----------
    state : State
        Before any fix.
    offers : Offers
        What can be chosen.
    """
    model = Model(state, offers)
    for offer in offers.decisions:
        model.builder.decision(offer.name, 1 + len(offer.options))
    return model


def add_terms(model: Model, weights: Weights) -> None:
    """Add the strain of every exposure of every task at every place it can be done.

    Parameters
    ----------
    model : Model
        With its rules, which narrow what the tables have to hold.
    weights : mapping
        Region weight by region [-].
    """
    for task in model.state.tasks:
        for place, gate in model.places_of(task):
            evaluation = model.evaluation(task, place)
            standing = evaluation("stand_share")
            modes = tuple(
                mode
                for mode, never in (("sit", 1.0), ("stand", 0.0))
                if not (standing.is_constant and bool(np.all(standing.values == never)))
            )
            for exposure, region, _roles, grid in strain_terms(evaluation, weights, modes):
                model.terms.append(Term(task, place, exposure, region, gate, grid))
