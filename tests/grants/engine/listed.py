"""People whose plans are written down one by one: answers come from memory."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from deskmend.grants.people.columns import Column, CostBand, PriceQuery, every_plan, pareto


class ListedPlans:
    """All plans of one person, at least one of them without packs, and the listed price of every item."""

    def __init__(self, plans: Sequence[Column], base: Mapping[str, int]) -> None:
        if not any(not plan.packs for plan in plans):
            raise ValueError("plans: one without packs is needed")
        self.plans = tuple(plans)
        self.base = base

    def columns(self, prices: Mapping[str, int], at_most: Mapping[str, int]) -> Sequence[Column]:
        allowed = self._within(at_most)
        at = {**self.base, **prices}
        kept = pareto(allowed, at)
        for level in sorted({plan.score for plan in allowed if plan.score is not None}):
            within = pareto([plan for plan in allowed if plan.score is not None and plan.score <= level], at)
            kept += [plan for plan in within if plan not in kept]
        return kept

    def best(
        self, prices: Mapping[str, int], strain_weight: int, money_weight: int, at_most: Mapping[str, int]
    ) -> Column:
        at = {**self.base, **prices}

        def preference(plan: Column) -> tuple[int, int, int]:
            money = plan.cost(at)
            return (strain_weight * plan.strain + money_weight * money, plan.strain, money)

        return min(self._within(at_most), key=preference)

    def _within(self, at_most: Mapping[str, int]) -> list[Column]:
        return [
            plan
            for plan in self.plans
            if all(count <= at_most.get(item, count) for item, count in plan.packs)
        ]


class ListedPool:
    """What `deskmend.grants.people.columns.Pool` asks for, from `ListedPlans` by id."""

    def __init__(self, people: Mapping[str, ListedPlans]) -> None:
        self.people = people

    def columns(self, prices: Mapping[str, int], ids: Sequence[str]) -> Mapping[str, Sequence[Column]]:
        return {one: self.people[one].columns(prices, {}) for one in ids}

    def best(
        self, prices: Mapping[str, int], strain_weights: Mapping[str, int], money_weight: int
    ) -> Mapping[str, Column]:
        return {
            one: self.people[one].best(prices, weight, money_weight, {})
            for one, weight in strain_weights.items()
        }

    def best_at(self, questions: Sequence[PriceQuery]) -> Sequence[Mapping[str, Column]]:
        return [self.best(asked.prices, asked.strain_weights, asked.money_weight) for asked in questions]

    def every(
        self, items: Sequence[str], bands: Mapping[str, CostBand]
    ) -> Mapping[str, Sequence[Column] | None]:
        return {one: every_plan(self.people[one], self.people[one].base, items, bands[one]) for one in bands}
