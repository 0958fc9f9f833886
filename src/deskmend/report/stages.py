"""The stages of a plan: today, with each purchase, as money comes in, and in the end."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from deskmend.intake.catalog import Catalog
from deskmend.intake.prices import PriceTable
from deskmend.language import tr
from deskmend.measures import Micro, Minor
from deskmend.planning.bill import BillLine
from deskmend.planning.dates import DAYS_A_MONTH, Schedule
from deskmend.planning.explain import moved
from deskmend.planning.frontier import Bundle, Instead
from deskmend.planning.model.offers import OptionSpec
from deskmend.planning.plan import Plan
from deskmend.planning.selection import key_of
from deskmend.planning.stages import Stage, StageChange
from deskmend.report.documents import bought_json, money_json, names_json, strain_json
from deskmend.report.layout import Page
from deskmend.report.steps import (
    add_instructions,
    cautions_of,
    day_start,
    lacking_by_check,
    lacking_text,
    leave_text,
    purchase_text,
    right_text,
    size_json,
    size_text,
    step_title,
    step_titles,
    used_text,
    when_word,
    why_text,
)
from deskmend.report.words import money_text, strain_text, total_text
from deskmend.risk.severity import read_together
from deskmend.workstation.state import State

if TYPE_CHECKING:
    from deskmend.report.case_documents import Sequence as SequenceDocument
    from deskmend.report.case_documents import StageRecord

__all__ = [
    "DoneLine",
    "StepGroup",
    "add_bundles",
    "add_instructions_of_stages",
    "add_schedule",
    "add_schedule_proof",
    "add_stages",
    "bundle_texts",
    "bundle_title",
    "done_of",
    "from_when",
    "groups_of",
    "in_buying_order",
    "instead_text",
    "kept_text",
    "no_sum_text",
    "nothing_text",
    "parted_text",
    "read_states",
    "rights_of",
    "schedule_document",
    "stage_title",
    "stages_document",
    "standing_lines",
    "states_of",
    "stays_text",
    "together_text",
    "wanting",
    "why_of",
]


def stages_document(plan: Plan) -> list[StageRecord]:
    """Stages in order, with strain [h/day], what is bought for each and all it holds at its sizes."""
    return [
        {
            "day": stage.day,
            "when": when_word(stage),
            "buy": bought_json(stage.buys, plan.currency),
            "cost": money_json(stage.spent, plan.currency),
            "with": names_json(stage.options),
            "kept": bought_json(stage.kept, plan.currency),
            "strain": strain_json(stage.strain),
            "minutes": stage.minutes,
            "steps": [
                {
                    "with": option.with_name,
                    "size": size_json(option),
                    "right": right_text(option, stage.state),
                    "lacking": lacking_text(option, stage.state),
                }
                for option in stage.options
            ],
        }
        for stage in plan.stages
    ]


@dataclass(frozen=True)
class DoneLine:
    """One line of a stage.

    - `number`: that of the step; what is done to it later cites it.
    - `new`: whether the step comes in here for the first time.
    - `text`: what is done.
    """

    number: int
    new: bool
    text: str
    change: StageChange
    stage: Stage

    @property
    def mark(self) -> str:
        """What stands before the line in a list."""
        return f"{self.number}." if self.new else "-"


def done_of(plan: Plan) -> Iterator[tuple[Stage, list[DoneLine]]]:
    """Stages with what is done for each; steps are numbered as they first come in."""
    numbers: dict[object, int] = {}
    standing = {key_of(option) for option in plan.in_place}
    for stage in plan.stages:
        lines = []
        for change in stage.changes:
            key = key_of(change.option)
            new = key not in numbers
            number = numbers.setdefault(key, len(numbers) + 1)
            text = step_title(change.option, plan.state_before)
            if new and key in standing:
                text = _of_standing(text, change)
            lines.append(DoneLine(number, new, text if new else _again(number, text, change), change, stage))
        yield stage, lines


@dataclass(frozen=True)
class StepGroup:
    """Lines of a stage that are one thing to do, since they help only together; else one line alone."""

    lines: tuple[DoneLine, ...]
    of: Bundle | None

    @property
    def mark(self) -> str:
        """What stands before it in a list."""
        return f"{self.numbers}." if self.of is not None else self.lines[0].mark

    @property
    def numbers(self) -> str:
        """Numbers of its steps, as ``7-9``."""
        first, last = self.lines[0].number, self.lines[-1].number
        return str(first) if first == last else f"{first}\u2013{last}"


def groups_of(lines: Sequence[DoneLine], plan: Plan) -> list[StepGroup]:
    """Lines of a stage, those of a bundle as one where all of it comes in there, one after the other."""
    out: list[StepGroup] = []
    at = 0
    while at < len(lines):
        of = plan.bundle_of.get(key_of(lines[at].change.option))
        size = 1 if of is None else len(of.options)
        found = tuple(lines[at : at + size])
        whole = {key_of(line.change.option) for line in found if line.new and line.change.after is not None}
        if of is None or size == 1 or whole != set(map(key_of, of.options)):
            found, of = (lines[at],), None
        out.append(StepGroup(found, of))
        at += len(found)
    return out


def bundle_title(bundle: Bundle, plan: Plan) -> str:
    """What a bundle is for, and what it takes along."""
    others = [option for option in bundle.options if option != bundle.head]
    name = step_title(bundle.head, plan.state_before)
    return (
        tr("{step}, together with {others}", step=name, others=step_titles(others, plan)) if others else name
    )


def together_text(bundle: Bundle, plan: Plan, parted: Sequence[int] = (), later: bool = False) -> str:
    """That steps only help together, what they take off and what they cost.

    `parted` names their numbers. Where some come `later`, that holds when all are there: until then the
    first ones may help without.
    """
    money = _charged(bundle, plan)
    strain, cost = strain_text(bundle.leaving_out), money_text(money, plan.currency)
    if parted:
        steps = ", ".join(map(str, parted))
        if later and not money:
            return tr(
                "When the whole plan is there, only together: steps {steps}. They take off {strain} then.",
                steps=steps,
                strain=strain,
            )
        if later:
            return tr(
                "When the whole plan is there, only together: steps {steps}. They take off {strain} then, "
                "for {cost} in all.",
                steps=steps,
                strain=strain,
                cost=cost,
            )
        if not money:
            return tr("Only together: steps {steps}. They take off {strain}.", steps=steps, strain=strain)
        return tr(
            "Only together: steps {steps}. They take off {strain} for {cost}.",
            steps=steps,
            strain=strain,
            cost=cost,
        )
    if not money:
        if payers := paid_with(bundle, plan):
            told = tr("Only together: they take off {strain}, for no more money.", strain=strain)
            return f"{told} {_serves_here(payers, plan)}"
        return tr("Only together: they take off {strain}, for nothing.", strain=strain)
    return tr("Only together: they take off {strain} for {cost}.", strain=strain, cost=cost)


def _charged(bundle: Bundle, plan: Plan) -> Minor:
    """What a bundle adds to the bill of those before it."""
    return sum(step.cost for step in plan.steps if step.option in bundle.options)


def _serves_here(payers: Sequence[OptionSpec], plan: Plan) -> str:
    return tr("What is bought for this serves here too: {steps}.", steps=step_titles(payers, plan))


def paid_with(bundle: Bundle, plan: Plan) -> list[OptionSpec]:
    """Steps for which those things are bought that a bundle takes as well and is not charged for."""
    if _charged(bundle, plan):
        return []
    inside = [step for step in plan.steps if step.option in bundle.options]
    bought = {line.item for line in plan.bill.lines if line.cost}
    wanted: set[str] = set()
    for step in inside:
        # what is carried is taken once, by the first step that uses it
        made = [one for one in plan.steps if one.takes and one.option.fix.id == step.option.fix.id]
        for one in [step] if step.takes else made if step.option.fix.carried else []:
            wanted |= {taking.item for taking in one.takes if taking.owned < taking.units} & bought
    return [
        step.option
        for step in plan.steps
        if step not in inside
        and step.cost
        and any(one.item in wanted and one.owned < one.units for one in step.takes)
    ]


def wanting(bought: BillLine, at: int, plan: Plan) -> list[tuple[int, DoneLine]]:
    """Lines that take a thing bought for a stage, from that stage on, each with the number of its stage."""
    return [
        (number, line)
        for number, (_, lines) in enumerate(done_of(plan))
        if number >= at
        for line in lines
        if any(one.item == bought.item and one.owned < one.units for one in line.change.takes)
    ]


def in_buying_order(stage: Stage, plan: Plan) -> list[BillLine]:
    """What is bought for a stage, what is wanted first before the rest."""
    at = plan.stages.index(stage)
    first = {line.item: [one.number for _, one in wanting(line, at, plan)] for line in stage.buys}
    return sorted(stage.buys, key=lambda line: min(first[line.item], default=len(plan.steps) + 1))


def parted_text(line: DoneLine, plan: Plan) -> str:
    """The same, said at the first step of a bundle whose steps other ones part; empty elsewhere."""
    of = plan.bundle_of.get(key_of(line.change.option))
    if of is None or len(of.options) == 1 or not line.new or line.change.after is None:
        return ""
    inside = sorted(
        (one.number, at)
        for at, (_, lines) in enumerate(done_of(plan))
        for one in lines
        if one.new and one.change.after is not None and key_of(one.change.option) in map(key_of, of.options)
    )
    numbers = [number for number, _ in inside]
    if len(numbers) < 2 or line.number != numbers[0]:
        return ""
    return together_text(of, plan, numbers, later=inside[0][1] != inside[-1][1])


def why_of(change: StageChange) -> str:
    """Why something is done for a stage; what is only set anew may make no difference."""
    if change.before is not None and not moved(change.state_before, change.state_after):
        return tr("By itself it makes no difference to the strain; the plan is reckoned with it set so.")
    return why_text(change.state_before, change.state_after)


def _again(number: int, title: str, change: StageChange) -> str:
    """What is done to an earlier step: it is undone, may go, comes back, or gets another size."""
    if change.may_stay:
        if moved(change.state_before, change.state_after):
            # too little to be told, or there is no time for it beside the work of this stage
            return tr(
                "Step {number} is not counted from here on; it may stay: {step}",
                number=number,
                step=title,
            )
        return tr("Step {number} is no longer needed, and may stay: {step}", number=number, step=title)
    if change.after is None:
        return tr("Take away or undo step {number}: {step}", number=number, step=title)
    if change.before is None:
        return tr("Step {number} once more: {step}", number=number, step=title)
    was = size_text(change.before)
    if not was:
        return tr("Step {number} anew: {step}", number=number, step=title)
    return tr("Step {number} anew: {step}; until now {size}", number=number, step=title, size=was)


def _of_standing(title: str, change: StageChange) -> str:
    """What is done to a fix that stands already: it is undone, may go, or gets another size."""
    if change.may_stay:
        return tr("No longer needed, and may stay: {step}", step=title)
    if change.after is None:
        return tr("Take away or undo: {step}", step=title)
    was = "" if change.before is None else size_text(change.before)
    return tr("{step}; until now {size}", step=title, size=was) if was else title


def standing_lines(plan: Plan) -> list[DoneLine]:
    """What stands already as if it were done for the first stage, for those who ask how it is done."""
    stays = {key_of(option) for option in plan.stays}
    made = [
        StageChange(None, step.option, step.takes, step.before, step.after, step.strain_after)
        for step in plan.steps
        if key_of(step.option) in stays
    ]
    first: dict[object, StageChange] = {}
    for stage in plan.stages:
        for change in stage.changes:
            first.setdefault(key_of(change.option), change)
    made += [
        StageChange(None, one.before, (), one.state_after, one.state_before, one.strain_after)
        for one in first.values()
        if one.before is not None and one.after is None
    ]
    known = len(first)
    return [
        DoneLine(known + number, True, step_title(one.option, plan.state_before), one, plan.stages[0])
        for number, one in enumerate(made, start=1)
    ]


def stays_text(plan: Plan) -> str:
    """What stands already and is left as it is; empty where nothing stands."""
    if not plan.stays:
        return ""
    things = "; ".join(step_title(option, plan.state_before) for option in plan.stays)
    return tr("In place already, and stays: {steps}.", steps=things)


def states_of(plan: Plan) -> list[State]:
    """The workplace at each stage of a plan, and as it is in the end."""
    return [*(stage.state for stage in plan.stages), plan.state_after]


def read_states(plans: Iterable[Plan]) -> None:
    """Let all that is shown of plans be worked out together, step by step."""
    read_together(
        state
        for plan in plans
        for state in (
            plan.state_before,
            *(one for stage in plan.stages for change in stage.changes for one in _around(change)),
            *states_of(plan),
        )
    )


def _around(change: StageChange) -> tuple[State, State]:
    return change.state_before, change.state_after


def rights_of(plan: Plan, option: OptionSpec) -> list[str]:
    """When a step is right, and what it lacks, in each stage that has it as it is; once where they agree."""
    rights: dict[str, list[Stage]] = {}
    lacks: dict[tuple[str, str], list[Stage]] = {}
    had = [stage for stage in plan.stages if option in stage.options]
    for number, stage in enumerate(plan.stages):
        if option not in stage.options:
            continue
        if right := right_text(option, stage.state):
            rights.setdefault(right, []).append(stage)
        until: dict[str, list[str]] = {}
        for check, text in lacking_by_check(option, stage.state).items():
            until.setdefault(_mended(plan, option, number, check), []).append(text)
        for mended, texts in until.items():
            lacks.setdefault((" ".join(texts), mended), []).append(stage)
    if len(rights) == 1:
        out = [tr("Right when: {sign}", sign=right) for right in rights]
    else:
        out = [
            tr("{stage}, right when: {sign}", stage=from_when(stages[0]), sign=right)
            for right, stages in rights.items()
        ]
    for (lacking, mended), stages in lacks.items():
        told = _lack_text(plan, option, stages[-1], lacking, mended)
        apart = len(plan.stages) > 1 and {id(s) for s in stages} != {id(s) for s in had}
        out.append(f"{from_when(stages[0])}: {told}" if apart else told)
    return out


def _lack_text(plan: Plan, option: OptionSpec, last: Stage, lacking: str, mended: str) -> str:
    """What a step lacks up to some stage, and what becomes of that later."""
    if mended:
        return tr("Not right yet: {sign} It comes right later: {stage}.", sign=lacking, stage=mended)
    later = plan.stages[next(n for n, stage in enumerate(plan.stages, start=1) if stage is last) :]
    gone = next((stage for stage in later if key_of(option) not in map(key_of, stage.options)), None)
    if gone is not None:
        return tr("Not right: {sign} This step goes again: {stage}.", sign=lacking, stage=from_when(gone))
    if later:
        return tr("Not right yet: {sign} It changes later, and is not right then either.", sign=lacking)
    return tr("Still not right: {sign} With this plan it is as good as it gets.", sign=lacking)


def _mended(plan: Plan, option: OptionSpec, number: int, check: str) -> str:
    """From when on what a step lacks is right, by it or by another, and stays so; empty where it never is."""
    when = ""
    for stage in plan.stages[number + 1 :]:
        lacks = check in lacking_by_check(option, stage.state)
        when = "" if lacks else when or from_when(stage)
    return when


def kept_text(stage: Stage, plan: Plan, catalog: Catalog) -> str:
    """What is bought for a stage and not needed there."""
    return "; ".join(purchase_text(line, plan.currency, catalog) for line in stage.kept)


def from_when(stage: Stage) -> str:
    """When a stage begins, as the start of a sentence."""
    return day_start(stage.day) if stage.day or stage.is_today else tr("With what you buy")


def stage_title(stage: Stage) -> str:
    """When a stage begins, as a heading."""
    if stage.is_today:
        return tr("Today, for nothing")
    return day_start(stage.day) if stage.day else tr("Then buy, and set up what has come")


def nothing_text(stage: Stage, plan: Plan) -> str:
    """That nothing is done for a stage; empty where something is, or where there is no other stage."""
    if stage.changes or len(plan.stages) == 1:
        return ""
    return tr("Nothing can be done without buying first.") if stage.is_today else tr("Nothing changes.")


def add_stages(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    """Add what is done today, what is bought then and what is done with it, up to the whole plan."""
    for stage, lines in done_of(plan):
        page.heading(stage_title(stage))
        page.points(
            [
                tr("Buy {things}.", things=purchase_text(line, plan.currency, catalog))
                + used_text(line.item, prices)
                for line in in_buying_order(stage, plan)
            ]
        )
        page.paragraph(nothing_text(stage, plan))
        for group in groups_of(lines, plan):
            if group.of is not None:
                told = together_text(group.of, plan)
                page.point(group.mark, f"{bundle_title(group.of, plan)}. {told}")
            for line in group.lines:
                parted = "" if group.of is not None else parted_text(line, plan)
                inside = 3 if group.of is not None else 0
                page.point(line.mark, f"{line.text}. {parted}".rstrip(), inside)
                if line.change.after is not None:
                    asks = leave_text(line.change.after)
                    cautions = cautions_of(line.change.after, stage.state)
                    page.points([*([asks] if asks else []), *cautions], inside + 3, "!")
        if stage.kept:
            things = kept_text(stage, plan, catalog)
            page.paragraph(tr("Bought, but not needed now: {things}.", things=things))
        page.paragraph(
            tr(
                "Strain from then on: {strain}. Spent so far: {cost}.",
                strain=strain_text(stage.strain, 2),
                cost=total_text(stage.spent, plan.currency, plan.invented),
            )
        )


def add_bundles(page: Page, plan: Plan) -> None:
    """Add what each bundle of a plan takes off, and what would do instead."""
    texts = bundle_texts(plan)
    if texts:
        page.heading(tr("What each takes off"))
        page.points(texts)
        page.paragraph(no_sum_text(plan))


def bundle_texts(plan: Plan) -> list[str]:
    """One text a bundle: what the same plan leaves more without it, and its cost."""
    return [_bundle_text(one, plan) for one in plan.bundles]


def no_sum_text(plan: Plan) -> str:
    """That the figures of bundles do not add up; empty where there is one at most."""
    if len(plan.bundles) < 2:
        return ""
    return tr(
        "Each figure is what more would be left without that line alone. They do not add up: several lines "
        "work on the same strain."
    )


def _bundle_text(bundle: Bundle, plan: Plan) -> str:
    money = _charged(bundle, plan)
    name = bundle_title(bundle, plan)
    strain = strain_text(bundle.leaving_out, 2)
    payers = paid_with(bundle, plan)
    if money:
        told = [
            tr(
                "{line}: {strain}, for {cost}.",
                line=name,
                strain=strain,
                cost=money_text(money, plan.currency),
            )
        ]
    elif payers:
        told = [
            tr("{line}: {strain}, for no more money.", line=name, strain=strain),
            _serves_here(payers, plan),
        ]
    else:
        told = [tr("{line}: {strain}, for nothing.", line=name, strain=strain)]
    served = [
        other.head
        for other in plan.bundles
        if any(option in bundle.options for option in paid_with(other, plan))
    ]
    if served:
        told.append(tr("What is bought for it serves this too: {steps}.", steps=step_titles(served, plan)))
    if money and not bundle.told:
        told.append(tr("By itself that is less than can be told: buy it last, or leave it."))
    if bundle.along:
        told.append(tr("Without it this goes too: {others}.", others=step_titles(bundle.along, plan)))
    if bundle.instead is not None:
        told.append(instead_text(bundle.instead, plan))
    return " ".join(told)


def instead_text(instead: Instead, plan: Plan) -> str:
    """What would do as well as a bundle, and what it costs."""
    steps, more = step_titles(instead.options, plan), instead.more
    money = money_text(abs(more), plan.currency)
    if not more:
        told = tr("As good, for the same money: {steps}.", steps=steps)
    elif more > 0:
        told = tr("As good, for {money} more: {steps}.", money=money, steps=steps)
    else:
        told = tr("As good, for {money} less: {steps}.", money=money, steps=steps)
    if not instead.gone:
        return told
    return f"{told} " + tr(
        "It takes the place of this too: {others}.", others=step_titles(instead.gone, plan)
    )


def add_instructions_of_stages(page: Page, plan: Plan, catalog: Catalog, prices: PriceTable) -> None:
    """Say of every step why it is there, how it is done and when it is right, stage by stage."""
    lines = [line for _, found in done_of(plan) for line in found if line.change.after is not None]
    for line in sorted(lines, key=lambda line: line.number):
        page.blank()
        when = f"{from_when(line.stage)}: " if len(plan.stages) > 1 else ""
        page.point(line.mark, f"{when}{line.text}")
        states = line.change.state_before, line.change.state_after
        page.paragraph(tr("Why: {why}", why=why_of(line.change)), 3)
        option = line.change.option
        rights = rights_of(plan, option)
        takes, state = line.change.takes, line.stage.state
        add_instructions(page, option, takes, state, catalog, prices, states[0], rights, 3)


def schedule_document(schedule: Schedule, currency: str) -> SequenceDocument:
    """Purchases and dates: sums of strain over the days to the horizon [h]."""
    return {
        "saving_per_month": money_json(schedule.savings.a_month, currency),
        "horizon_months": schedule.savings.months,
        "spent": money_json(schedule.spent, currency),
        "strain_sum": strain_json(schedule.total),
        "strain_sum_least": strain_json(schedule.least),
        "strain_sum_bound": strain_json(schedule.bound),
        "lost_cheapest_first": strain_json(schedule.cheapest_first - schedule.least),
        "lost_biggest_first": strain_json(schedule.biggest_first - schedule.least),
        "candidates": bought_json(schedule.candidates, currency),
        "candidates_left_aside": schedule.left_aside,
        "proven_over_candidates": schedule.exact,
        "proven_over_all": schedule.exact_over_all,
    }


def add_schedule(page: Page, plan: Plan) -> None:
    """Add how much money there is when, and what it buys that serves on the way only."""
    schedule = plan.schedule
    if schedule is None:
        return
    savings, currency = schedule.savings, plan.currency
    page.heading(tr("As money comes in"))
    page.paragraph(
        tr(
            "{in_hand} in hand now, {a_month} more after each month, {months} months ahead. What is free is "
            "set anew at each date. A month counts as 30 days.",
            in_hand=money_text(savings.in_hand, currency),
            a_month=money_text(savings.a_month, currency),
            months=savings.months,
        )
    )
    if schedule.spent > plan.cost:
        unused = money_text(schedule.spent - plan.cost, currency)
        page.paragraph(tr("Things for {cost} help on the way and lie unused in the end.", cost=unused))


def add_schedule_proof(page: Page, schedule: Schedule) -> None:
    """Add what is proven of purchases and dates, and what plain orders would lose."""
    days = schedule.savings.months * DAYS_A_MONTH
    total = strain_text(schedule.total)
    many = len(schedule.candidates)
    if schedule.exact and schedule.total > schedule.least:
        page.paragraph(
            tr(
                "Proven: over {days} days no choice, order or date of the {many} purchases that the plans at "
                "any budget make leaves less than {least} strain-hours in all. This leaves {total}, since "
                "nothing is set up for a while that takes off less than can be told. Strain, cost and every "
                "rule at each date were checked again without the optimiser.",
                days=days,
                least=strain_text(schedule.least),
                total=total,
                many=many,
            )
        )
    elif schedule.exact:
        page.paragraph(
            tr(
                "Proven: over {days} days this leaves {total} strain-hours in all, and no other choice, "
                "order or date of the {many} purchases that the plans at any budget make leaves less. "
                "Strain, cost and every rule at each date were checked again without the optimiser.",
                days=days,
                total=total,
                many=many,
            )
        )
    else:
        page.paragraph(
            tr(
                "Not proven best: over {days} days this leaves {total} strain-hours in all. {many} purchases "
                "were looked at, {aside} more left aside. Each date was checked again and holds.",
                days=days,
                total=total,
                many=many,
                aside=schedule.left_aside,
            )
        )
    if schedule.exact_over_all:
        page.paragraph(tr("Nothing else for sale can do better either."))
    else:
        gap = strain_text(schedule.least - schedule.bound)
        page.paragraph(
            tr(
                "Not proven over everything for sale: no purchases can leave less than {bound}, which is "
                "{gap} less. Whether that can be reached is not known.",
                bound=strain_text(schedule.bound),
                gap=gap,
            )
        )
    page.paragraph(
        tr(
            "The same purchases cheapest first would leave {cheapest}; those with the biggest effect first "
            "{biggest}, each as soon as there is money for it.",
            cheapest=_lost(schedule.cheapest_first - schedule.least),
            biggest=_lost(schedule.biggest_first - schedule.least),
        )
    )


def _lost(more: Micro) -> str:
    return tr("{strain} strain-hours more", strain=strain_text(more)) if more else tr("as little")
