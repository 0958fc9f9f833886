"""What the rounds of a fund come to, kept by hand beside the ledger, and what that leaves a person."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from deskmend.grants.fund import FundShared, FundWishes
from deskmend.grants.people.columns import Applicant
from deskmend.grants.terms import FundTerms
from deskmend.intake.catalog import Catalog
from deskmend.intake.given_before import Had
from deskmend.intake.ledger import LedgerEntry
from deskmend.intake.prices import PricedItem, PriceTable

from .fund_people import rows

Thing = tuple[str, str]
"""Item and size; the size is empty where it has none."""


@dataclass
class Kept:
    """Things, money and who has what, added up from what each round handed out and from every entry."""

    held: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    store: Counter[Thing] = field(default_factory=Counter)
    paid_for: Counter[str] = field(default_factory=Counter)
    """Money of what each person was given."""
    corrected: Counter[str] = field(default_factory=Counter)
    """Money paid beyond that less what came back, by id; empty for nobody."""
    groups: dict[str, str] = field(default_factory=dict)
    """Group in which each person was last given something."""
    made: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    cut_up: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Units of their own that people cut up."""
    bought: dict[str, tuple[int | None, str, int]] = field(default_factory=dict)
    """Stock and day named when an item was last bought, and packs bought since it was named first."""
    paid: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Price and units of a pack when an item was last bought."""

    @property
    def spent(self) -> int:
        return self.paid_for.total() + self.corrected.total()

    def had(self, name: str, catalog: Catalog) -> Had:
        """What one person has."""
        mine = {
            (item, size): units for (one, item, size), units in self.held.items() if one == name and units
        }
        return Had(
            owned=tuple(
                (item, n) for (item, size), n in sorted(mine.items()) if not _sized(item, size, catalog)
            ),
            sized=tuple(
                (item, size, n) for (item, size), n in sorted(mine.items()) if _sized(item, size, catalog)
            ),
            made=tuple(sorted(self.made[name])) if name in self.made else (),
            used_up=tuple((item, n) for (one, item), n in sorted(self.cut_up.items()) if one == name and n),
        )

    def add_round(self, shared: FundShared, catalog: Catalog, prices: PriceTable) -> None:
        """Take in what a round ordered and handed out, and what is cut of it."""
        served = {one for one, _, _ in self.held if self.held[one, _, _]} | set(shared.given.had)
        for order in shared.handed.orders:
            self.store[order.item, order.size] += order.packs * order.pack
            if not order.packs:
                continue
            sold = f"{order.item}@{order.size}" if order.size else order.item
            name = sold if sold in prices else order.item
            priced = prices[name]
            day = "" if priced.as_of is None else priced.as_of.isoformat()
            stock, before, packs = self.bought.get(name, (priced.stock, day, 0))
            if (stock, before) != (priced.stock, day):
                packs = 0
            self.bought[name] = priced.stock, day, packs + order.packs
            self.paid[sold] = self.paid[order.item] = order.unit_price, order.pack
        for gift in shared.handed.gifts:
            self.store[gift.item, gift.size] -= gift.units
            self.held[gift.id, gift.item, gift.size] += gift.units
            self.paid_for[gift.id] += gift.cost
            self.groups[gift.id] = rows()[gift.id].group or ""
            served.add(gift.id)
        for name, plan in shared.plans.items():
            if name not in served:
                continue
            own = Counter({item: had.count for item, had in rows()[name].case.owns.items()})
            own.subtract({item: n for (one, item), n in self.cut_up.items() if one == name})
            for option in plan.options:
                if not option.fix.cuts or not option.use:
                    continue
                step = option.fix.id if option.size is None else f"{option.fix.id}={option.size:g}"
                self.made[name].add(step)
                for item, units in option.use.items():
                    mine = min(units, max(0, own[item]))
                    own[item] -= mine
                    self.cut_up[name, item] += mine
                    self.held[name, item, ""] -= units - mine

    def add_entry(self, entry: LedgerEntry, minor: int) -> None:
        """Take in one thing that happened; `minor` is its money."""
        mine, place = (entry.id, entry.item, entry.size), (entry.item, entry.size)
        if entry.entry in ("return", "transfer") or (entry.entry == "lost" and entry.id and not entry.step):
            self.held[mine] -= entry.units
        if entry.entry in ("return", "store"):
            self.store[place] += entry.units
        if entry.entry == "transfer":
            self.held[entry.to, entry.item, entry.size] += entry.units
        if entry.entry == "bought":
            self.held[mine] += entry.units
        if entry.entry == "lost" and entry.step:
            self.made[entry.id].remove(entry.step)
        if entry.entry == "lost" and not entry.id:
            self.store[place] -= entry.units
        if entry.entry in ("refund", "paid"):
            self.corrected[entry.id] += minor if entry.entry == "paid" else -minor

    def market(self, prices: PriceTable, catalog: Catalog) -> tuple[PriceTable, dict[str, int]]:
        """Prices with what only the store has, and whole packs in store by the name they are sold under."""
        items, spare = dict(prices.items), Counter[str]()
        for (item, size), units in sorted(self.store.items()):
            if units <= 0:
                continue
            sized = _sized(item, size, catalog)
            name = f"{item}@{size}" if sized else item
            if name not in items and sized and item in prices:
                if prices[item].tiers or prices[item].stock is not None:
                    continue
                items[name] = prices[item]
            if name not in items and name not in self.paid:
                continue
            if name not in items:
                price, pack = self.paid[name]
                items[name] = PricedItem(pack, price, price, price, stock=0)
            spare[name] += units // items[name].pack
        return replace(prices, items=items), dict(+spare)

    def terms(
        self,
        wishes: FundWishes,
        prices: PriceTable,
        spare: Mapping[str, int],
        people: Sequence[Applicant],
    ) -> FundTerms:
        """What the next round has to give, `prices` and `spare` as `market` gives them."""
        off = {}
        for name, (stock, day, packs) in self.bought.items():
            now = prices.get(name)
            if now is not None and (now.stock, "" if now.as_of is None else now.as_of.isoformat()) == (
                stock,
                day,
            ):
                off[name] = packs
        groups = {**self.groups, **{one.id: one.group or "" for one in people}}
        before: Counter[str | None] = Counter()
        for name, money in self.paid_for.items():
            before[groups.get(name, "")] += money
        before[None] = self.corrected.total()
        return FundTerms(
            fund=wishes.fund - self.spent,
            base={name: item.price for name, item in prices.items.items()},
            stock={
                name: max(0, item.stock - off.get(name, 0))
                for name, item in prices.items.items()
                if item.stock is not None
            },
            spare=spare,
            tiers={
                name: tuple((tier.from_packs, tier.price) for tier in item.tiers)
                for name, item in prices.items.items()
                if item.tiers
            },
            policy=wishes.policy,
            limit=wishes.limit,
            cap=wishes.cap,
            caps={
                one.id: max(0, wishes.cap_in_all - self.paid_for[one.id] - self.corrected[one.id])
                for one in people
                if wishes.cap_in_all is not None
            },
            floor=wishes.floor,
            group_share=wishes.group_share,
            group_cap={
                group: max(0, most - self._for_group(group, groups))
                for group, most in wishes.group_cap.items()
            },
            spent_before=before,
        )

    def _for_group(self, group: str, groups: Mapping[str, str]) -> int:
        """What was paid for all people of a group, less what came back in their names."""
        mine = [name for name in {*self.paid_for, *self.corrected} if groups.get(name) == group]
        return sum(self.paid_for[name] + self.corrected[name] for name in mine)


def _sized(item: str, size: str, catalog: Catalog) -> bool:
    return bool(size) and catalog.items[item].sized


def positive(counts: Iterable[tuple[object, int]]) -> dict[object, int]:
    """Counts without nothing."""
    return {key: count for key, count in counts if count}
