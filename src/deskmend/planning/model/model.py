"""The exact model of people who can choose among the same, mostly of one person.

Every option's effect on every exposure is a table over decisions. Every cell is a call of the very functions
that score a state, so choosing and scoring cannot differ. What changes together is found from the parameter
names of the posture functions; nothing is listed by hand. `rules` tells what cannot go together: its masks
come first, since they narrow what the tables have to hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial, reduce
from typing import Any

import numpy as np

from deskmend.choice import Mask
from deskmend.choice.problem import LARGEST_TABLE
from deskmend.intake.catalog_records import Fix, Need
from deskmend.language import tr
from deskmend.planning.model.offers import KEEP, Offer, Offers
from deskmend.planning.model.rules import (
    NO_ROOM,
    ROOM_ON_DESK,
    Gate,
    at_odds,
    crowded,
    holds,
    need_met,
    predicates_of,
    rule_contexts,
    squeezed,
    worked_at,
)
from deskmend.planning.model.tables import (
    PEOPLE_AXIS,
    RULE_ROLES,
    AnyArray,
    Grid,
    GridBuilder,
    StateArrays,
    TooManyCells,
    constant,
    symbol_of,
    trimmed,
)
from deskmend.risk.severity import Curve, moved_curves, severity
from deskmend.risk.strain import strain_terms
from deskmend.workstation.effects import Change
from deskmend.workstation.fields import FIELDS, SYMBOLS
from deskmend.workstation.graph import QUANTITIES, Evaluation
from deskmend.workstation.state import Slot, State, owner_of

__all__ = ["Model", "Term", "add_terms", "ruled_model"]


@dataclass(frozen=True, eq=False)
class Term:
    """Strain of one exposure of one task at one place, over its scope [millionths of h/day]."""

    task: str
    place: str
    exposure: str
    region: str
    gate: Gate | None
    grid: Grid


class Model:
    """Grids, nodes, masks and terms.

    - `states`: everybody's before any fix, all of the same places and tasks.
    - `offers`: what can be chosen.
    - `own`: what of it each of them can choose; all if left out.
    - `curves`: severity curves that stand in for those of the table, person by person; none if left out.
    """

    def __init__(
        self,
        states: Sequence[State],
        offers: Offers,
        own: Sequence[Offers] = (),
        curves: Sequence[Mapping[str, Curve]] = (),
    ) -> None:
        self.state = states[0]
        """For ids: they are everybody's."""
        self.offers = offers
        self.now = StateArrays(states)
        self.builder = GridBuilder(len(states))
        self.terms: list[Term] = []
        self.masks: list[Mask] = []
        self._whys: dict[int, str] = {}
        self._slots: dict[Slot, Grid] = {}
        self._constants: dict[tuple[str, bytes], Grid] = {}
        self._evaluations: dict[tuple[str, str], Evaluation[Grid]] = {}
        self._curves = curves if any(curves) else ()
        self._everybody = Grid((PEOPLE_AXIS,), np.arange(len(states)))
        for offer in offers.decisions:
            self.builder.decision(offer.name, 1 + len(offer.options))
        if own:
            mine = [{o.name: {option.name for option in o.options} for o in one.decisions} for one in own]
            for offer in offers.decisions:
                names = [one.get(offer.name, set()) for one in mine]
                open_to = [[True, *(option.name in one for option in offer.options)] for one in names]
                self.forbid_unless(Grid(*trimmed((PEOPLE_AXIS, offer.name), np.array(open_to))))

    # --- what a state holds ----------------------------------------------------------------------

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
                if self._curves and function.__module__ == severity.__module__:
                    arguments = [self._everybody, *arguments] if len(self._curves) > 1 else arguments
                    function = partial(_by_own_curves, function, self._curves)
                if key[0] == "legs_under":
                    # Less room than has to be left is forbidden: tables need not tell it apart.
                    room, wide = arguments
                    least = self.least_clearance(place)
                    arguments = [self.builder.apply("", np.maximum, [room, least], node=False), wide]
                return self.builder.apply(label, function, arguments, node=entry.cut)

            self._evaluations[task, place] = Evaluation(QUANTITIES, leaf, apply, constant, _is_zero)
        return self._evaluations[task, place]

    def slot(self, slot: Slot) -> Grid:
        """Value of a field over the decisions that change it."""
        if slot not in self._slots:
            start = self.of_people(self.now.field(slot))
            offers = self.touching.get(slot, [])
            self._slots[slot] = self._changed(slot, start, offers) if offers else start
        return self._slots[slot]

    def of_people(self, values: Any) -> Grid:
        """Grid of what everybody has a value of, or all share one; equal ones are one and the same."""
        array = np.asarray(values)
        grid = Grid(*trimmed((PEOPLE_AXIS,) * array.ndim, array))
        return self._constants.setdefault((grid.values.dtype.str, grid.values.tobytes()), grid)

    def _changed(self, slot: Slot, start: Grid, offers: list[Offer]) -> Grid:
        """Grid of a field that some decisions change; two that set it at once are forbidden."""
        label = f"{slot[0][1] or slot[0][0]}:{slot[1]}"
        groups: list[list[tuple[Change, ...]]] = []
        arguments = []
        for offer in offers:
            kinds: dict[tuple[Change, ...], int] = {}
            index = []
            for option in (None, *offer.options):
                changes = tuple(c for c in option.changes if c.slot == slot) if option else ()
                index.append(kinds.setdefault(changes, len(kinds)))
            groups.append(list(kinds))
            raw = Grid((offer.name,), np.array(index))
            arguments.append(self.builder.apply(f"{label}@{offer.name}", _same, [raw]))

        def sound(*picked: AnyArray) -> AnyArray:
            sets = [np.array([sum(c.operation == "set" for c in g) for g in group]) for group in groups]
            total: AnyArray = np.asarray(sum(s[p] for s, p in zip(sets, picked, strict=True)))
            return total <= 1

        if len(offers) > 1:
            self.forbid_unless(self.builder.apply("", sound, arguments, node=False))

        def settled(value: AnyArray, *picked: AnyArray) -> AnyArray:
            return _settled(value, groups, picked)

        return self.builder.apply(label, settled, [start, *arguments])

    def least_clearance(self, place: str) -> Grid:
        """Free height over the legs that a plan has to leave [mm]."""
        return self.of_people(self.now.least_clearance(place))

    # --- what cannot go together -----------------------------------------------------------------

    def chosen(self, offer: Offer, fix: Fix) -> Grid:
        """True where a decision takes a fix, at any size."""
        return Grid((offer.name,), np.array([False, *(option.fix is fix for option in offer.options)]))

    def gate(self, gate: Gate | None) -> Grid:
        """True where a gate is open."""
        if gate is None:
            return constant(True)
        offer = next(o for o in self.offers.decisions if o.name == gate[0])
        names = [KEEP, *(option.name for option in offer.options)]
        return Grid((offer.name,), np.array([name == gate[1] for name in names]))

    def forbid_unless(self, allowed: Grid, why: str = "") -> None:
        """Forbid every combination where a grid is False; `why` where no need of a fix says it."""
        if not bool(np.all(allowed.values)):
            if allowed.values.size > LARGEST_TABLE:
                cells = allowed.values.size
                raise TooManyCells(f"a rule over {', '.join(allowed.scope)} would have {cells} cells")
            mask = Mask(allowed.scope, np.array(allowed.values, dtype=np.bool_))
            self._whys[len(self.masks)] = why
            self.masks.append(mask)
            self.builder.rule(mask)

    def open_options(self, offer: Offer) -> AnyArray:
        """What of a decision no rule closes by itself: people, or one row for all alike, by options."""
        out: AnyArray = np.ones((1, 1 + len(offer.options)), dtype=np.bool_)
        for mask in self.masks:
            if mask.scope in ((offer.name,), (PEOPLE_AXIS, offer.name)):
                out = out & mask.allowed
        return out

    def impossible(self) -> dict[str, list[str]]:
        """Options that a rule closes to everybody whatever else is chosen, by decision."""
        out = {}
        for offer in self.offers.decisions:
            some = np.any(self.open_options(offer)[:, 1:], axis=0)
            out[offer.name] = [o.name for o, one in zip(offer.options, some, strict=True) if not one]
        return {name: bad for name, bad in out.items() if bad}

    def whys(self) -> dict[tuple[str, str], str]:
        """Reasons told of options that one rule closes by itself, by decision and option."""
        out: dict[tuple[str, str], str] = {}
        for number, mask in enumerate(self.masks):
            offer = next((one for one in self.offers.decisions if mask.scope == (one.name,)), None)
            if offer is not None and self._whys[number]:
                closed = np.flatnonzero(~mask.allowed[1:])
                out |= {(offer.name, offer.options[k].name): self._whys[number] for k in closed}
        return out


def _by_own_curves(
    function: Callable[..., AnyArray], curves: Sequence[Mapping[str, Curve]], *values: AnyArray
) -> AnyArray:
    """What a function gives where each person has severity curves of their own.

    `values` have an axis for the people first; of one person alone they have none.
    """
    if len(curves) == 1:
        with moved_curves(curves[0]):
            return function(*values)
    everybody, *given = values
    parts = []
    for person, mine in enumerate(curves):
        theirs = [one[person : person + 1] if len(one) > 1 else one for one in given]
        shape = np.broadcast_shapes((1,) * everybody.ndim, *(one.shape for one in theirs))
        with moved_curves(mine):
            parts.append(np.broadcast_to(function(*theirs), shape))
    return np.concatenate(parts)


def _is_zero(grid: Grid) -> bool:
    return grid.is_constant and bool(np.all(grid.values == 0))


def _same(values: AnyArray) -> AnyArray:
    return values


def _settled(
    value: AnyArray, groups: Sequence[Sequence[tuple[Change, ...]]], picked: Sequence[AnyArray]
) -> AnyArray:
    """Values of a field after changes, as `deskmend.workstation.effects.settle` has them for one state.

    Of each group some changes are picked. Of two that set the field, which is forbidden, the first counts.
    """

    def told(group: Sequence[tuple[Change, ...]], operation: str) -> list[list[Any]]:
        return [[c.value for c in changes if c.operation == operation] for changes in group]

    def amounts(operation: str, none: float) -> list[AnyArray]:
        out = []
        for group, pick in zip(groups, picked, strict=True):
            known = told(group, operation)
            for k in range(max(map(len, known))):
                out.append(np.array([one[k] if k < len(one) else none for one in known])[pick])
        return out

    for group, pick in reversed(list(zip(groups, picked, strict=True))):
        sets = told(group, "set")
        if any(sets):
            none: Any = "" if isinstance(next(one[0] for one in sets if one), str) else 0.0
            to = np.array([one[0] if one else none for one in sets])
            value = np.where(np.array([bool(one) for one in sets])[pick], to[pick], value)
    if added := amounts("add", 0.0):
        value = value + sum(added)
    for most in amounts("at_most", np.inf):
        value = np.minimum(value, most)
    if floors := amounts("at_least", -np.inf):
        floor = reduce(np.maximum, floors)
        # What is not known becomes known where a fix guarantees it.
        value = np.where(np.isnan(value) & (floor > -np.inf), floor, np.maximum(value, floor))
    return value


# --- rules and terms -----------------------------------------------------------------------------


def ruled_model(
    states: Sequence[State],
    offers: Offers,
    own: Sequence[Offers] = (),
    curves: Sequence[Mapping[str, Curve]] = (),
) -> Model:
    """Model with its rules, without the options that no rule would ever let through; see `Model`."""
    while True:
        model = Model(states, offers, own, curves)
        _add_conflicts(model)
        # Rules about plain fields come first: what they forbid need not be reckoned with in the tables of
        # the quantities that later rules ask for.
        for about_fields in (True, False):
            for offer in offers.decisions:
                for fix in dict.fromkeys(option.fix for option in offer.options):
                    for need in fix.needs:
                        if about_fields == all(p.name in FIELDS for p in predicates_of(need)):
                            _add_need(model, offer, fix, need)
        _add_clearance(model)
        _add_room_on_desk(model)
        impossible = model.impossible()
        if not impossible:
            return model
        offers = offers.without(impossible, partial(_never_met, model))


def _add_need(model: Model, offer: Offer, fix: Fix, need: Need) -> None:
    for asked in _asked(model, offer, fix, need):
        model.forbid_unless(model.builder.apply("", partial(_unless_taken, need), asked, node=False))


def _asked(model: Model, offer: Offer, fix: Fix, need: Need) -> Iterator[list[Grid]]:
    """What a rule is judged by, wherever it is asked: gate, whether the fix is taken, and each condition."""
    predicates = tuple(dict.fromkeys(predicates_of(need)))
    chosen = model.chosen(offer, fix)
    names = [p.name for p in predicates]
    for task, place, gate in rule_contexts(offer.owner, names, model.places_of, model.state):
        evaluation = model.evaluation(task, place)
        if not _never_asked(need, evaluation):
            grids = [evaluation(symbol_of(p.name), **RULE_ROLES) for p in predicates]
            yield [model.gate(gate), chosen, *grids]


def _met(need: Need, values: Sequence[AnyArray]) -> AnyArray:
    met: AnyArray = need_met(need, dict(zip(dict.fromkeys(predicates_of(need)), values, strict=True)))
    return met


def _unless_taken(need: Need, here: AnyArray, taken: AnyArray, *values: AnyArray) -> AnyArray:
    return ~(here & taken) | _met(need, values)


def _taken_with(need: Need, here: AnyArray, taken: AnyArray, *values: AnyArray) -> AnyArray:
    return taken & (_met(need, values) | ~here)


def _never_met(model: Model, offer: Offer, fix: Fix) -> str:
    """Why a fix is never possible: a need that nothing meets beside it, or a rule by itself; else empty."""
    for need in fix.needs:
        for asked in _asked(model, offer, fix, need):
            if not np.any(model.builder.apply("", partial(_taken_with, need), asked, node=False).values):
                return tr(need.why)
    whys = model.whys()
    told = [whys.get((offer.name, option.name), "") for option in offer.options if option.fix is fix]
    return told[0] if all(told) else ""


def _never_asked(need: Need, evaluation: Evaluation[Grid]) -> bool:
    """Whether a field that nothing changes says that a rule is not asked: nothing is worked out then."""
    for predicate in need.when:
        if predicate.name in FIELDS:
            grid = evaluation(symbol_of(predicate.name))
            if grid.is_constant and not np.any(holds(predicate, grid.values)):
                return True
    return False


def _add_conflicts(model: Model) -> None:
    """Forbid fixes one of which names the other, each pair once."""
    done = set()
    for offer in model.offers.decisions:
        for fix in dict.fromkeys(option.fix for option in offer.options):
            for other in model.offers.decisions if fix.conflicts else ():
                rivals = (o.fix for o in other.options if at_odds(fix, offer.owner, o.fix, other.owner))
                for rival in dict.fromkeys(rivals) if other is not offer else ():
                    one, two = (offer.name, fix.id), (other.name, rival.id)
                    if (two, one) not in done:
                        done.add((one, two))
                        both = [model.chosen(offer, fix), model.chosen(other, rival)]
                        model.forbid_unless(model.builder.apply("", _not_both, both, node=False))


def _not_both(first: AnyArray, second: AnyArray) -> AnyArray:
    return ~(first & second)


def _add_clearance(model: Model) -> None:
    """Legs that do not fit under a desk where somebody works are impossible, unless it is so already."""
    for _, place, gate in worked_at(model.places_of, model.state):
        evaluation = model.evaluation(model.state.tasks[0], place)
        standing = evaluation("stand_share")
        if standing.is_constant and bool(np.all(standing.values >= 1.0)):
            continue
        asked = [model.gate(gate), evaluation("clearance"), standing, model.least_clearance(place)]
        model.forbid_unless(model.builder.apply("", _fits, asked, node=False))
    _add_clearance_of_moves(model)


def _add_clearance_of_moves(model: Model) -> None:
    """No task goes where there is less room for the legs than at its own place now, where they do not fit."""
    for task in model.state.tasks:
        own = model.state.place_of[task]
        for place, gate in model.places_of(task):
            if place != own:
                evaluation = model.evaluation(task, place)
                least = model.least_clearance(own)
                asked = [model.gate(gate), evaluation("clearance"), evaluation("stand_share"), least]
                model.forbid_unless(model.builder.apply("", _fits, asked, node=False))


def _fits(here: AnyArray, clearance: AnyArray, standing: AnyArray, least: AnyArray) -> AnyArray:
    return np.asarray(~(here & squeezed(clearance, standing, least)))


def _add_room_on_desk(model: Model) -> None:
    """What a task needs has to lie on a desk of given size, unless it cannot already where it is done."""
    for task in model.state.tasks:
        for place, gate in model.places_of(task):
            for name, size in ROOM_ON_DESK.items():
                given = model.of_people(model.now.given((("place", place), size)))
                if not np.any(given.values):
                    continue
                left = model.evaluation(task, place)(name, **RULE_ROLES)
                least = model.of_people(model.now.least_room(name, task))
                asked = [model.gate(gate), left, least, given]
                lies = model.builder.apply("", _lies, asked, node=False)
                model.forbid_unless(lies, _sentence(tr(NO_ROOM[name])))


def _sentence(reason: str) -> str:
    return f"{reason[:1].upper()}{reason[1:]}."


def _lies(here: AnyArray, left: AnyArray, least: AnyArray, given: AnyArray) -> AnyArray:
    return np.asarray(~(here & crowded(left, least, given)))


def add_terms(model: Model, weights: Mapping[str, float]) -> None:
    """Add the strain of every exposure of every task at every place it can be done, by region weights [-]."""
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
