"""People put together who can be modelled at once, and one person's problem cut out of their tables.

What the person cannot choose, what makes no difference to this person and states that only others have are
left out, so the problem is about as small as if the person had been modelled alone. Of a model of one person
all is taken as it stands.

Only the calls that fill the tables are shared: what anybody's answer is does not depend on who else is there.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from deskmend.choice import Decision, Item, Mask, Node, Option, Problem, Table
from deskmend.intake.case import Case
from deskmend.intake.prices import PriceTable
from deskmend.measures import Micro
from deskmend.planning.model.model import Model, add_terms, ruled_model
from deskmend.planning.model.offers import KEEP, Offer, Offers, OptionSpec, piece_item
from deskmend.planning.model.tables import PEOPLE_AXIS, AnyArray, Scope, TooManyCells, Variables, trimmed
from deskmend.risk.severity import Curve
from deskmend.workstation.effects import Change
from deskmend.workstation.state import Owner, State

__all__ = [
    "CARRIED",
    "NOT_CARRIED",
    "Gathering",
    "Member",
    "TableSizes",
    "carrier_name",
    "gathered",
    "items_of",
    "modelled_together",
    "problems_of",
    "problems_together",
    "sizes_of",
]

MOST_REACH_OF_ONE = 100_000
"""Most combinations of options gone through to find what can occur together: many problems have to be cut."""

Forbidden = dict[str, str | int]


CARRIED = "yes"
NOT_CARRIED = "no"
"""Option of a carrier: the thing is not had."""


def carrier_name(fix: str) -> str:
    """Decision that says whether a carried fix is had at all."""
    return f"carry.{fix}"


def problems_of(model: Model, cases: Sequence[Case], prices: PriceTable) -> list[tuple[Problem, Micro]]:
    """Everybody's choice, with all strain as its value, out of a model with its rules and terms.

    Problems are without limits; behind each stands the strain that nothing chosen changes.
    """
    decisions, forbidden = _decisions(model)
    tables = _added_up([Table(t.grid.scope, t.grid.values, when=t.gate) for t in model.terms])
    opened = {offer.name: model.open_options(offer) for offer in model.offers.decisions}
    out = []
    for person, case in enumerate(cases):
        part = _Part(model, person, opened)
        mine, rules = part.choice(decisions, forbidden)
        summed = _added_up(part.tables(tables))
        fixed = sum(int(table.values) for table in summed if not table.scope and table.when is None)
        changing = [table for table in summed if table.scope or table.when is not None]
        kept, nodes = _absorbed(changing, part.variables.nodes, part.masks)
        # Implied masks leave out, of every table and node, what no choice can reach.
        scopes = dict.fromkeys((*(t.scope for t in kept), *(n.scope for n in nodes)))
        found = [(scope, part.variables.reach(scope)) for scope in scopes if len(scope) > 1]
        reached = [Mask(scope, reach, implied=True) for scope, reach in found if reach is not None]
        items = items_of(mine, case, prices)
        masks = (*part.masks, *reached)
        out.append((Problem(mine, items, kept, rules, None, None, nodes, masks), fixed))
    return out


class _Part:
    """Which states of each variable a person has, and the person's nodes and masks."""

    def __init__(self, model: Model, person: int, opened: dict[str, AnyArray]) -> None:
        self.person = person
        self.whole = len(model.now.states) == 1
        self.open = {name: np.flatnonzero(rows[person % len(rows)]) for name, rows in opened.items()}
        self._names = {o.name: [KEEP, *(p.name for p in o.options)] for o in model.offers.decisions}
        self.variables: Variables = model.builder
        self.masks = model.masks
        if not self.whole:
            self._cut(model)

    def _cut(self, model: Model) -> None:
        self.variables = Variables(MOST_REACH_OF_ONE)
        for name, options in self.open.items():
            self.variables.decision(name, options.size)
        for node in model.builder.nodes:
            scope, index = self.own(node.scope, node.index)
            met = np.bincount(index.ravel(), minlength=node.size) > 0
            self.open[node.name] = np.flatnonzero(met)
            if self.open[node.name].size > 1:
                size = int(self.open[node.name].size)
                self.variables.add_node(node.name, scope, (np.cumsum(met) - 1)[index], size)
        self.masks = []
        for mask in model.masks:
            scope, allowed = self.own(mask.scope, mask.allowed)
            # What closes options by itself is among what is open.
            if not bool(np.all(allowed)):
                self.masks.append(Mask(scope, allowed))
                self.variables.rule(self.masks[-1])

    def own(self, scope: Scope, values: AnyArray) -> tuple[Scope, AnyArray]:
        """The person's part of an array, over the variables that make a difference."""
        if self.whole:
            return scope, values
        if scope[:1] == (PEOPLE_AXIS,):
            scope, values = scope[1:], values[self.person]
        return trimmed(scope, values[np.ix_(*(self.open[v] for v in scope))] if scope else values)

    def tables(self, tables: Sequence[Table]) -> list[Table]:
        """The person's part of tables, without those that only others can get to."""
        if self.whole:
            return list(tables)
        out = []
        for table in tables:
            gate = table.when
            if gate is not None:
                opened = [self._names[gate[0]][k] for k in self.open[gate[0]]]
                if gate[1] not in opened:
                    continue
                gate = gate if len(opened) > 1 else None
            out.append(Table(*self.own(table.scope, table.values), when=gate))
        return out

    def choice(
        self, decisions: Sequence[Decision], forbidden: Sequence[Forbidden]
    ) -> tuple[list[Decision], list[Forbidden]]:
        """Decisions with the options that the person has, where there are two or more, and their rules."""
        mine = [
            Decision(d.name, [d.options[k] for k in self.open[d.name].tolist()]) if d.name in self.open else d
            for d in decisions
            if d.name not in self.open or self.open[d.name].size > 1
        ]
        names = {decision.name: {option.name for option in decision.options} for decision in mine}
        rules = [e for e in forbidden if all(n in names and o in names[n] for n, o in e.items())]
        # Whether a thing is had that serves several owners matters only to those who can use it.
        bound = {name for entry in rules for name in entry}
        return [d for d in mine if d.name in self.open or d.name in bound], rules


def _decisions(model: Model) -> tuple[list[Decision], list[Forbidden]]:
    """All decisions, carriers behind them, and the partial assignments that may not occur."""
    decisions: list[Decision] = []
    carriers: dict[str, OptionSpec] = {}
    forbidden: list[Forbidden] = []
    owners = {"place": len(model.state.places), "task": len(model.state.tasks)}
    for offer in model.offers.decisions:
        options = [Option(KEEP)]
        for option in offer.options:
            shared = option.fix.carried and owners.get(offer.owner[0], 1) > 1
            if shared:
                carriers[option.fix.id] = option
                forbidden.append({offer.name: option.name, carrier_name(option.fix.id): NOT_CARRIED})
            use = {} if shared else option.use
            options.append(Option(option.name, use=use, minutes=0 if shared else option.fix.minutes))
        decisions.append(Decision(offer.name, options))
    for fix, option in carriers.items():
        had = Option(CARRIED, use=option.use, minutes=option.fix.minutes, is_fix=False)
        decisions.append(Decision(carrier_name(fix), [Option(NOT_CARRIED), had]))
    return decisions, forbidden


def items_of(decisions: Sequence[Decision], case: Case, prices: PriceTable) -> list[Item]:
    """Items that options use up, with what a pack costs and what is owned."""
    owned: dict[str, int] = {}
    for name, own in case.owns.items():
        owned[name] = own.count
        for piece in own.pieces:
            stock = piece_item(name, piece)
            owned[stock] = owned.get(stock, 0) + 1
    out = []
    for item in dict.fromkeys(item for d in decisions for o in d.options for item in o.use):
        priced, had = prices.items.get(item), owned.get(item, 0)
        if priced is None:
            out.append(Item(item, price=None, owned=had))
        else:
            tiers = [(tier.from_packs, tier.price) for tier in priced.tiers]
            out.append(Item(item, priced.price, priced.pack, had, stock=priced.stock, tiers=tiers))
    return out


def _added_up(tables: Sequence[Table]) -> list[Table]:
    """Tables of one scope and gate added up, so that there are few; without those that add nothing."""
    groups: dict[tuple[tuple[str, str | int] | None, Scope], AnyArray] = {}
    for table in tables:
        key = (table.when, table.scope)
        groups[key] = table.values + groups[key] if key in groups else table.values
    return [Table(scope, values, when=gate) for (gate, scope), values in groups.items() if np.any(values)]


def _absorbed(
    tables: Sequence[Table], nodes: Sequence[Node], masks: Sequence[Mask]
) -> tuple[list[Table], list[Node]]:
    """Tables and nodes without nodes that serve a single table alone, or nothing."""
    kept = list(nodes)
    tables = list(tables)
    for node in reversed(nodes):
        users = [k for k, table in enumerate(tables) if node.name in table.scope]
        if any(node.name in n.scope for n in kept) or any(node.name in m.scope for m in masks):
            continue
        if not users:
            kept.remove(node)
        elif len(users) == 1 and tables[users[0]].scope == (node.name,):
            table = tables[users[0]]
            tables[users[0]] = Table(node.scope, table.values[node.index], when=table.when)
            kept.remove(node)
    return _added_up(tables), kept


@dataclass(frozen=True)
class TableSizes:
    """What a reader needs to judge what a proof was taken over.

    - `decisions`, `options`: decisions, and options in all of them; to keep things as they are is one of
      each.
    - `nodes`: derived variables that stand for what hangs on several decisions.
    - `tables`, `cells`, `largest`: tables of strain, their cells together, and those of the largest.
    """

    decisions: int
    options: int
    nodes: int
    tables: int
    cells: int
    largest: int


def sizes_of(problem: Problem) -> TableSizes:
    """Measure a problem as it is handed to the engines, before they reduce it."""
    cells = [table.values.size for table in problem.tables]
    return TableSizes(
        len(problem.decisions),
        sum(len(decision.options) for decision in problem.decisions),
        len(problem.nodes),
        len(cells),
        sum(cells),
        max(cells, default=0),
    )


FEW_OPEN = 0.05
"""Part of the people up to which those who can settle a decision at all are modelled apart."""
MOST_FOREIGN = 0.5
"""Most options that only others can take, as a part of a member's own: more make tables grow for nothing."""
MIXED_FOREIGN = 0.25
"""The same where not even their decisions are the same."""
MOST_TOGETHER = 100
"""Most people whose tables are filled at once: beyond, nothing is saved and the tables grow large."""
MOST_MIXED = 8
"""Most people of unlike decisions together: what is shared is saved by then, and tables grow with each."""


@dataclass(frozen=True, eq=False)
class Member:
    """One person of a cohort: case, state before any fix, what can be chosen, and region weights [-].

    - `curves`: severity curves that stand in for those of the table, by name.
    """

    case: Case
    state: State
    offers: Offers
    weights: Mapping[str, float]
    curves: Mapping[str, Curve] = field(default_factory=dict)

    @property
    def build(self) -> Hashable:
        """What people have to have in common: places, tasks and region weights."""
        state = self.state
        return tuple(state.place_of.items()), state.places, tuple(sorted(self.weights.items()))


@dataclass(eq=False)
class Gathering:
    """People who can be modelled at once.

    - `people`: their positions among all.
    - `decisions`: by name whatever any of them can settle, in an order that is everybody's own; the options
      of each likewise.
    """

    people: list[int] = field(default_factory=list)
    decisions: dict[str, _Settled] = field(default_factory=dict)
    _fewest: int = 0
    _mixed: bool = False

    @property
    def offers(self) -> Offers:
        """All that any of them can take."""
        found = self.decisions.items()
        return Offers(tuple(Offer(name, one.owner, tuple(one.options.values())) for name, one in found), ())

    def take(self, number: int, offers: Offers) -> bool:
        """Take the person of a number in, if what can be chosen agrees with what the others can."""
        asked = {offer.name: offer for offer in offers.decisions}
        names = _merged(list(asked), list(self.decisions))
        if names is None:
            return False
        merged: dict[str, _Settled] = {}
        for name in names:
            known, mine = self.decisions.get(name), asked.get(name)
            both = known if mine is None else _Settled.of(mine) if known is None else known.with_offer(mine)
            if both is None:
                return False
            merged[name] = both
        own = sum(len(offer.options) for offer in offers.decisions)
        fewest = min(self._fewest, own) if self.people else own
        unlike = bool(self.people) and not len(asked) == len(self.decisions) == len(merged)
        unlike = unlike or self._mixed
        if unlike and len(self.people) >= MOST_MIXED:
            return False
        most = (1 + MIXED_FOREIGN) * fewest if unlike else (1 + MOST_FOREIGN) * fewest + 8
        if sum(len(one.options) for one in merged.values()) > most:
            return False
        self.decisions, self._fewest, self._mixed = merged, fewest, unlike
        self.people.append(number)
        return True


@dataclass(frozen=True, eq=False)
class _Settled:
    """A decision of several people, with the options that any of them has, by name."""

    owner: Owner
    options: dict[str, OptionSpec]

    @staticmethod
    def of(offer: Offer) -> _Settled:
        return _Settled(offer.owner, {option.name: option for option in offer.options})

    def with_offer(self, offer: Offer) -> _Settled | None:
        """The same with one more person's options; None where these differ, or are ordered otherwise."""
        mine = {option.name: option for option in offer.options}
        names = _merged(list(mine), list(self.options))
        shared = [name for name in mine if name in self.options]
        if names is None or offer.owner != self.owner:
            return None
        if not all(_same(mine[name], self.options[name]) for name in shared):
            return None
        if len(names) == len(self.options):
            return self
        return _Settled(self.owner, {name: self.options.get(name) or mine[name] for name in names})


def gathered(members: Sequence[Member]) -> list[Gathering]:
    """Put people together who can be modelled at once, everybody in exactly one gathering."""
    by_build: dict[Hashable, list[Gathering]] = {}
    for number, member in enumerate(members):
        known = by_build.setdefault(member.build, [])
        if not any(one.take(number, member.offers) for one in known):
            known.append(Gathering())
            known[-1].take(number, member.offers)
    return [one for known in by_build.values() for one in known]


def problems_together(members: Sequence[Member], prices: PriceTable) -> list[tuple[Problem, Micro] | None]:
    """Everybody's problem as `problems_of` gives it, those modelled at once who can choose among the same.

    None of whoever can choose among too much for tables.
    """
    out: dict[int, tuple[Problem, Micro] | None] = {}
    for group in gathered(members):
        for start in range(0, len(group.people), MOST_TOGETHER):
            numbers = group.people[start : start + MOST_TOGETHER]
            found = _as_many_as_fit([members[k] for k in numbers], group.offers, prices)
            out.update(zip(numbers, found, strict=True))
    return [out[k] for k in range(len(members))]


def _as_many_as_fit(
    members: Sequence[Member], offers: Offers, prices: PriceTable
) -> list[tuple[Problem, Micro] | None]:
    """Problems of some members; of fewer at once where their tables would be too large."""
    try:
        return [*modelled_together(members, offers, prices)]
    except TooManyCells:
        half = len(members) // 2
        if not half:
            return [None]
        parts = members[:half], members[half:]
        return [one for part in parts for one in _as_many_as_fit(part, offers, prices)]


def modelled_together(
    members: Sequence[Member], offers: Offers, prices: PriceTable
) -> list[tuple[Problem, Micro]]:
    """Problems of people of one gathering, out of all that any of them can take, as `problems_of` gives them.

    - raises `TooManyCells`: a table would be too large; fewer people at once may do.
    """
    try:
        return _modelled(members, offers, prices)
    except TooManyCells:
        # What only some can settle makes everybody's tables grow: those who can settle the same are left.
        groups: dict[tuple[str, ...], list[int]] = {}
        for number, member in enumerate(members):
            groups.setdefault(tuple(o.name for o in member.offers.decisions), []).append(number)
        if len(groups) == 1:
            raise
        out: dict[int, tuple[Problem, Micro]] = {}
        for people in groups.values():
            found = _modelled([members[k] for k in people], offers, prices)
            out.update(zip(people, found, strict=True))
        return [out[k] for k in range(len(members))]


def _modelled(members: Sequence[Member], offers: Offers, prices: PriceTable) -> list[tuple[Problem, Micro]]:
    # What nobody knows is not a number, and numbers that are none are compared.
    with np.errstate(invalid="ignore"):
        model = _ruled(members, offers)
        closed = {}
        apart = np.zeros(len(members), dtype=np.bool_)
        for offer in model.offers.decisions:
            some = np.broadcast_to(model.open_options(offer)[:, 1:].any(axis=1), len(members))
            if some.mean() <= FEW_OPEN and not some.all():
                apart |= some
                closed[offer.name] = [option.name for option in offer.options]
        if not closed:
            return _filled(model, members, prices)
        # Few people who can settle a decision that is closed to most stand apart: their tables are larger.
        out: dict[int, tuple[Problem, Micro]] = {}
        for group, left in ((~apart, model.offers.without(closed)), (apart, model.offers)):
            people = np.flatnonzero(group).tolist()
            if people:
                mine = [members[k] for k in people]
                out.update(zip(people, _filled(_ruled(mine, left), mine, prices), strict=True))
        return [out[k] for k in range(len(members))]


def _ruled(members: Sequence[Member], offers: Offers) -> Model:
    own = [member.offers for member in members]
    curves = [member.curves for member in members]
    return ruled_model([member.state for member in members], offers, own, curves)


def _filled(model: Model, members: Sequence[Member], prices: PriceTable) -> list[tuple[Problem, Micro]]:
    add_terms(model, members[0].weights)
    return problems_of(model, [member.case for member in members], prices)


def _same(one: OptionSpec, other: OptionSpec) -> bool:
    return one is other or (
        one.fix is other.fix
        and len(one.changes) == len(other.changes)
        and all(map(_same_change, one.changes, other.changes))
        and one.moves_to == other.moves_to
        and one.use == other.use
    )


def _same_change(one: Change, other: Change) -> bool:
    """Whether two changes do the same; what is made unknown is no number, and equals nothing."""
    if (one.slot, one.operation) != (other.slot, other.operation):
        return False
    unknown = one.value != one.value and other.value != other.value
    return unknown or one.value == other.value


def _merged(mine: Sequence[str], known: Sequence[str]) -> Sequence[str] | None:
    """Names of both in an order that keeps to both; None where the two orders differ."""
    place = {name: k for k, name in enumerate(known)}
    shared = [place[name] for name in mine if name in place]
    if shared != sorted(shared):
        return None
    if len(shared) == len(mine):
        return known
    out = list(known)
    at = 0
    for name in mine:
        if name in place:
            at = out.index(name, at) + 1
        else:
            out.insert(at, name)
            at += 1
    return out
