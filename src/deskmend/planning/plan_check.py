"""The check of a plan without the optimiser, and what stands in the way where there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from deskmend.choice import Choice, solve
from deskmend.errors import DefectError
from deskmend.language import shown_number, tr
from deskmend.measures import Minor, Minutes, format_amount
from deskmend.planning.bill import Bill, bill_of, minutes_of
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.model.rules import Breach, breaches_of_many
from deskmend.planning.reach import Goal, missed_goals
from deskmend.planning.ready_case import NoPlan, ReadyCase
from deskmend.planning.score import Score, score, scores_of_many
from deskmend.planning.selection import state_with
from deskmend.workstation.distances import (
    BEHIND_SCREEN,
    BEHIND_SHEET,
    CLEARS_KEYS,
    FOOT_BEFORE,
    KEYBOARD_DEPTH,
    KEYBOARD_WIDTH,
    LAPTOP_WIDTH,
    MOUSE_ROOM,
    SHEET_OVER,
    SHEET_WIDTH,
    SHORT_KEYBOARD,
)
from deskmend.workstation.state import DEVICES, Owner, State, evaluate

__all__ = ["AfterPlan", "all_reached", "clashes", "cramped", "hindered", "verify_plan", "without_room"]


@dataclass(frozen=True)
class AfterPlan:
    """State that a plan leads to, its score, and the rules that it breaks."""

    state: State
    score: Score
    broken: Sequence[Breach]


def all_reached(ready: ReadyCase, plans: Sequence[Sequence[OptionSpec]]) -> list[AfterPlan]:
    """What each plan leads to, worked out together where there are many."""
    states = [state_with(ready.state, options) for options in plans]
    one = len(states) == 1
    scores = [score(states[0], ready.weights)] if one else scores_of_many(states, ready.weights)
    chosen = [tuple((option.fix, option.owner) for option in options) for options in plans]
    broken = breaches_of_many([ready.state] * len(states), states, chosen)
    return list(map(AfterPlan, states, scores, broken))


def verify_plan(
    ready: ReadyCase,
    choice: Choice,
    budget: Minor | None,
    minutes: Minutes | None,
    goals: Sequence[Goal] = (),
    reached: AfterPlan | None = None,
) -> tuple[State, Score, Bill]:
    """Apply, score and price a plan again, without the optimiser, and refuse it if anything differs.

    Gives the state after the plan, its score and its bill. `reached` is given where it was worked out
    together with that of other plans; else the state is scored and held against the rules alone. Raises
    DefectError where strain, cost, minutes, a goal or a rule do not hold.
    """
    options = ready.options_of(choice)
    if reached is None:
        (reached,) = all_reached(ready, [options])
    after, scored, broken = reached.state, reached.score, reached.broken
    strain = scored.total
    bill = bill_of(options, ready.case, ready.prices)
    wrong = []
    claimed = choice.value + ready.fixed_strain
    if strain != claimed:
        wrong.append(f"strain {strain} scored again, {claimed} claimed")
    if bill.total != choice.cost or bill.missing:
        wrong.append(f"cost {bill.total} priced again, {choice.cost} claimed; not to be had: {bill.missing}")
    if minutes_of(options) != choice.minutes:
        wrong.append(f"minutes {minutes_of(options)} added again, {choice.minutes} claimed")
    if budget is not None and bill.total > budget:
        wrong.append(f"cost {bill.total} over the limit {budget}")
    if minutes is not None and choice.minutes > minutes:
        wrong.append(f"minutes {choice.minutes} over the limit {minutes}")
    wrong += [f"{one.fix.id}: {one.reason}" for one in broken]
    wrong += clashes(options)
    wrong += cramped(ready.state, after)
    wrong += without_room(ready.state, after)
    wrong += missed_goals(goals, after, ready.weights)
    if wrong:
        raise DefectError("the plan failed its check: " + "; ".join(wrong))
    return after, scored, bill


def clashes(options: Sequence[OptionSpec]) -> list[str]:
    """Pairs of fixes that the catalog does not let stand together.

    This says a second time, on purpose and in other terms, what `deskmend.planning.model.rules.at_odds` says:
    tables, answers and orders of steps all rest on that one, so a fault there has to show here. Fixes meet
    unless both belong to places, or both to tasks, and not to the same one.
    """
    out = []
    for one, other in combinations(options, 2):
        named = one.fix.id in other.fix.conflicts or other.fix.id in one.fix.conflicts
        (level, where), (other_level, elsewhere) = one.owner, other.owner
        apart = level == other_level and level in ("place", "task") and where != elsewhere
        if named and not apart:
            out.append(f"{one.with_name} cannot go together with {other.with_name}")
    return out


def cramped(before: State, after: State) -> list[str]:
    """Tasks whose legs have less room than they have now, where they do not fit.

    The rule of `deskmend.planning.model.rules.squeezed`, said a second time from the lengths themselves: legs
    may be without room only where they are so now, and then not with less.
    """
    out = []
    for task, place in after.place_of.items():
        if float(after.values[("place", place), "stand_share"]) >= 1.0:
            continue
        room = _room(after, task, place)
        now = [_room(before, task, where) for where in (place, before.place_of[task])]
        if room < 0.0 and any(room < one for one in now):
            out.append(f"{task}: the legs lack {-room:.0f} mm under the desk of {place}")
    return out


def _room(state: State, task: str, place: str) -> float:
    """Free height between legs and desk [mm]; over a lap nothing stands."""
    ask = evaluate(state, task, place)
    if str(ask("desk_legs")) == "lap" or float(ask("lap_rise")) >= 0.0:
        return 0.0
    under = float(ask("desk_height")) - float(ask("desk_frame")) - float(ask("desk_lap_lost"))
    return under - max(float(ask("thigh_top")), float(ask("knee_top")))


def without_room(before: State, after: State) -> list[str]:
    """Tasks whose things cannot lie on a desk of given depth or width, and lack more room than they do now.

    The rule of `deskmend.planning.model.rules.crowded`, said a second time from the things themselves: what
    stands one behind the other and what lies side by side, each by its own size.
    """
    out = []
    for task, place in after.place_of.items():
        for way, size in (("deep", "desk.depth"), ("wide", "desk.width")):
            if (("place", place), size) in after.assumed:
                continue
            lacks = _lacking(after, task, size)
            # the last bit of a sum may differ from that of the rule
            if lacks > max(0.0, _lacking(before, task, size)) + 1e-6:
                out.append(f"{task}: the desk of {place} is not {way} enough by {lacks:.0f} mm")
    return out


def _lacking(state: State, task: str, size: str) -> float:
    """What a desk lacks in depth or width for the things of a task [mm]; below 0 where it has more."""
    at = state.place_of[task]
    room = float(state.values[("place", at), size])
    sizes = _line(state, task) if size == "desk.depth" else _row(state, task)
    return sum(sizes) - room


def _things(state: State, task: str) -> tuple[str, str, str, bool, bool]:
    """Screen, what lies in the middle, whose keys, whether on a shelf, and whether paper is read."""
    own: Owner = ("task", task)
    place: Owner = ("place", state.place_of[task])
    shelf = float(state.values[place, "keyboard.drop"]) > 0.0
    reads = float(state.values[own, "look.paper"]) > 0.0
    words = (state.values[own, "task.screen"], state.values[own, "task.middle"])
    return str(words[0]), str(words[1]), str(state.values[DEVICES, "keyboard"]), shelf, reads


def _line(state: State, task: str) -> list[float]:
    """Depth of what stands in one line, from the front edge to the wall [mm]."""
    screen, middle, keys, shelf, reads = _things(state, task)
    if screen == "none":
        return []
    keyboard = [KEYBOARD_DEPTH] if keys == "separate" and middle != "paper" and not shelf else []
    before, sheet = keyboard, False
    goes_aside = middle == "paper" and screen == "laptop" and keys != "separate"
    if reads and middle != "screen" and not goes_aside:
        # A sheet lies where the model has it, and all of it but its far margin behind a keyboard.
        reaches = [float(evaluate(state, task)("paper_place")), BEHIND_SHEET]
        whole = [*keyboard, SHEET_OVER, 2.0 * BEHIND_SHEET] if keyboard else []
        before, sheet = max(reaches, whole, key=sum), True
    foot = FOOT_BEFORE
    if screen == "laptop":
        high = float(state.values[("place", state.place_of[task]), "screen.raise"]) >= CLEARS_KEYS
        foot = float(state.values[DEVICES, "laptop.depth"]) / (2.0 if high and not sheet else 1.0)
    return [*before, foot, BEHIND_SCREEN]


def _row(state: State, task: str) -> list[float]:
    """Width of what lies side by side [mm], or of the screen where that is wider."""
    screen, middle, keys, shelf, reads = _things(state, task)
    row = [SHEET_WIDTH - SHEET_OVER] if reads and middle != "both" else []
    if screen != "none" and keys != "separate":
        row.append(LAPTOP_WIDTH)
    elif screen != "none" and not shelf:
        short = str(state.values[DEVICES, "keyboard.number_pad"]) == "no"
        row.append(SHORT_KEYBOARD if short else KEYBOARD_WIDTH)
    if screen != "none" and str(state.values[DEVICES, "mouse"]) == "separate" and not shelf:
        row.append(MOUSE_ROOM)
    return max(row, [LAPTOP_WIDTH] if screen == "laptop" else [], key=sum)


def hindered(ready: ReadyCase, budget: Minor | None, minutes: Minutes | None, choice: Choice) -> NoPlan:
    """What stands in the way of any plan within limits, and what would suffice; to be raised.

    `choice` is the answer that holds no assignment.
    """
    if choice.status == "not_proven":
        told, more = tr("nothing was found in the time allowed"), tr("allow more time")
        return NoPlan(told, more, timed_out=True, signs=ready.signs)
    for told, money, time in (
        (tr("money does not suffice for what must be in the plan"), None, minutes),
        (tr("time does not suffice for what must be in the plan"), budget, None),
        (tr("money and time do not suffice for what must be in the plan"), None, None),
    ):
        other = solve(replace(ready.problem(money, time), first="cost"))
        if other.found:
            amount = shown_number(format_amount(other.cost, ready.prices.currency))
            cost = f"{amount} {ready.prices.currency}"
            more = tr("{cost} and {minutes} minutes would", cost=cost, minutes=other.minutes)
            return NoPlan(told, more, signs=ready.signs)
    told = tr("what must be in the plan cannot go together here")
    return NoPlan(told, tr("leave out one of the musts"), signs=ready.signs)
