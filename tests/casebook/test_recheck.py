"""Coming back: what is in place, what is owned by now, what is not planned again, and what may be said."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from tests.catalog.small_catalog import write

from deskmend.casebook.learning import felt_changes, rating_errors
from deskmend.casebook.rechecking import (
    Rechecked,
    before_and_reached,
    follow_up_text,
    no_longer_wanted,
    recheck,
    steps_done,
)
from deskmend.casebook.store import Casebook, PersonBook, StepDone, open_casebook
from deskmend.casebook.visits import KEYS, Entries, case_of_visit, discomfort_told
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.prices import PriceTable, load_prices
from deskmend.language import reading
from deskmend.planning.assessment import assess
from deskmend.planning.plan import plan
from deskmend.report.plan import plan_document, plan_text
from deskmend.report.recheck import felt_words, recheck_document, recheck_text
from deskmend.risk.severity import REGIONS

from .books import CASE_TEXT, DAY, done, felt, visit

SHIPPED = load_catalog()
RAISED = CASE_TEXT.replace("feet_on: floor", "feet_on: '80'")
"""The case measured with the crate of 80 mm under the feet."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Catalog, PriceTable]:
    folder = write(tmp_path_factory.mktemp("small"))
    return load_catalog(folder), load_prices(folder / "prices.csv")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Casebook]:
    with open_casebook(tmp_path / "a.casebook", create=True) as made:
        made.add_visit("anna", visit("den.crate_feet=80", "bell"))
        yield made


def crate(size: int, *, given_up: bool = False, later: int = 7) -> StepDone:
    state = "given_up" if given_up else "kept"
    return done(f"den.crate_feet={size}", state, decision="den.feet", later=later, paid=200)  # type: ignore[arg-type]


def again(
    book: Casebook,
    shop: tuple[Catalog, PriceTable],
    *steps: StepDone,
    text: str = CASE_TEXT,
    measured: bool = False,
) -> Rechecked:
    if steps:
        book.add_done("anna", steps)
    with book:
        person = book.person("anna")
    case = case_of_visit(visit(text=text))
    return recheck(person, case, *shop, day=date(2026, 3, 15), measured=measured)


def stands(found: Rechecked) -> dict[str, str]:
    return {one.name: one.stands for one in found.steps}


def taken(found: Rechecked) -> list[str]:
    return [step.option.with_name for step in found.again.steps]


def test_nothing_done_says_so(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    found = again(book, shop)
    assert found.nothing_done
    assert stands(found) == {"den.crate_feet=80": "not_done", "bell": "not_done"}
    assert found.reached.assessment.plain == found.before.assessment.plain
    assert found.planned is not None
    assert found.planned.assessment.plain.total < found.before.assessment.plain.total
    text = recheck_text(found, shop[0])
    assert "Nothing of the plan stands in the casebook as done." in text
    assert "Nothing has changed." in text
    assert found.again.cost == 200


def test_another_place_is_not_credited_to_the_plan(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    found = again(book, shop, text=CASE_TEXT.replace("height: '480'", "height: '470'"))
    text = " ".join(recheck_text(found, shop[0]).split())
    assert "What differs comes from the place as it is told now, not from the plan." in text


@pytest.mark.parametrize("height", ["470", "300"])
@pytest.mark.parametrize(
    ("language", "shared", "crossed"),
    [
        ("en", "hands at the keyboard, below the elbow", "keyboard: before 35 mm below the elbow"),
        ("es", "manos, teclado, por debajo del codo", "teclado: antes 35 mm por debajo del codo"),
    ],
)
def test_measures_tell_their_side_once_or_where_it_changes(
    book: Casebook,
    shop: tuple[Catalog, PriceTable],
    language: str,
    shared: str,
    crossed: str,
    height: str,
) -> None:
    found = again(book, shop, text=CASE_TEXT.replace("height: '480'", f"height: '{height}'"))
    with reading(language):
        told = " ".join(recheck_text(found, shop[0]).split())
    assert [shared in told, crossed in told] == [height == "470", height == "300"]


def test_as_planned_reaches_what_was_planned(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    found = again(book, shop, crate(80), done("bell", decision="breaks"))
    assert set(stands(found).values()) == {"in_place"}
    assert found.planned is not None
    assert found.reached.assessment.plain == found.planned.assessment.plain
    assert found.bought == {"crate": 1}
    assert found.again.cost == 0
    assert found.paid == 200


def test_another_size_is_planned_from_without_buying_again(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    found = again(book, shop, crate(40))
    assert stands(found)["den.crate_feet=80"] == "other_size"
    assert found.in_place == ("den.crate_feet=40",)
    assert found.again.cost == 0
    assert "den.crate_feet=40" in taken(found)
    text = " ".join(recheck_text(found, shop[0]).split())
    assert "in place at another size, den.crate_feet=40" in text


@pytest.mark.parametrize("size", [40, 55])
def test_sizes_with_prices_of_their_own_are_not_bought_again(
    book: Casebook, shop: tuple[Catalog, PriceTable], tmp_path: Path, size: int
) -> None:
    table = tmp_path / "prices.csv"
    table.write_text(
        "item,pack,price,currency\ncrate,1,2.00,EUR\ncrate@40,1,1.50,EUR\ncrate@80,2,2.50,EUR\n",
        encoding="utf-8",
    )
    found = again(book, (shop[0], load_prices(table)), crate(size))
    assert (found.bought, found.again.cost) == ({"crate": 1}, 0)
    assert f"den.crate_feet={size}" in taken(found)


def test_what_was_given_up_is_not_planned_again(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    found = again(book, shop, crate(80), crate(80, given_up=True, later=9))
    assert stands(found)["den.crate_feet=80"] == "given_up"
    assert found.in_place == ()
    assert not any("crate_feet" in name for name in taken(found))
    assert found.bought == {"crate": 1}
    assert found.again.cost == 0


def test_what_is_taken_up_again_is_in_place(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    found = again(book, shop, crate(80), crate(80, given_up=True, later=9), crate(80, later=12))
    assert stands(found)["den.crate_feet=80"] == "in_place"


def test_a_case_measured_with_all_in_place_is_not_added_to(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    found = again(book, shop, crate(80), text=RAISED, measured=True)
    assert found.reached.assessment.options == ()
    assert found.bought == {}
    assert found.no_longer == ()


def test_a_fix_that_the_catalog_lost_is_told(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    book.add_visit("anna", visit("den.gone_fix"))
    found = again(book, shop, done("den.gone_fix"))
    assert found.planned is None
    assert found.in_place == ()
    told = " ".join(found.warnings)
    assert "den.gone_fix stands in the casebook, but not with this case" in told
    assert "cannot be counted any more, the catalog has changed: den.gone_fix" in told
    assert recheck_document(found, shop[0])["planned"] is None


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (6, 6, "no clear change"),
        (6, 5, "no clear change"),
        (6, 7, "no clear change"),
        (6, 4, "may be better, within measuring error for one person"),
        (6, 3, "may be better, within measuring error for one person"),
        (3, 6, "may be worse, within measuring error for one person"),
        (6, 2, "clearly changed: less"),
        (0, 10, "clearly changed: more"),
    ],
)
def test_words_for_what_was_felt(first: int, last: int, said: str) -> None:
    (change,) = felt_changes(felt(("neck", first, last)))
    assert felt_words(change) == said


def test_of_one_day_the_last_rating_counts_and_one_day_is_no_change() -> None:
    before, after = felt(("neck", 6, 2))
    corrected = type(before)(DAY, "neck", 3)
    (change,) = felt_changes([before, corrected, after])
    assert (change.first, change.last) == (corrected, after)
    assert felt_changes([before, corrected]) == ()


def test_published_errors_are_cited_for_the_regions_rated() -> None:
    """Kovacs 2008: 4.0 at the neck; Williams 2025: 1.6 to 2.8 at the low back; Hrvatin and Puh 2021: 2."""
    told = {error.source: (error.low, error.high) for error in rating_errors(REGIONS)}
    assert told == {
        "kovacs_2008": (4.0, 4.0),
        "williams_2025": (1.6, 2.8),
        "hrvatin_puh_2021": (2.0, 2.0),
    }
    assert rating_errors(["eyes", "upper_back"]) == ()
    assert all("doi 10." in SHIPPED.sources[key].place for key in told)


def test_no_sentence_credits_a_fix_with_what_was_felt(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    book.add_felt("anna", felt(("neck", 9, 1), ("lower_back", 8, 5)))
    found = again(book, shop, crate(80), done("bell", decision="breaks"))
    text = recheck_text(found, shop[0])
    part = re.split(r"\n(?=\w[^\n]*\n-+\n)", text)
    (about,) = [one for one in part if one.startswith("How it felt")]
    assert "clearly changed: less" in about
    assert "This says nothing of what it comes from" in " ".join(about.split())
    for fix in shop[0].fixes:
        assert fix.id not in about
        assert fix.title not in about
    assert not re.search(r"because|thanks|help|work(s|ed)|reliev|cure|heal", about)
    elsewhere = text.replace(about, "")
    assert "clearly changed" not in elsewhere


def test_side_by_side_nobodys_discomfort_counts(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    hurts = CASE_TEXT.replace("person:\n", "person:\n  discomfort: {legs_feet: 9}\n", 1)
    book.add_visit("anna", visit(day=date(2026, 2, 1), text=hurts))
    found = again(book, shop, crate(80))
    pair = before_and_reached(found, *shop)
    assert found.before.assessment.strain.total > found.before.assessment.plain.total
    assert pair.first.strain == pair.first.plain == found.before.assessment.plain
    assert pair.second.strain == found.reached.assessment.plain


def test_what_was_felt_changes_no_strain(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    book.add_done("anna", [crate(80)])
    before = recheck_document(again(book, shop), shop[0])
    with open_casebook(book.path) as other:
        other.add_felt("anna", felt(("neck", 9, 0), ("legs_feet", 8, 1)))
        after = recheck_document(again(other, shop), shop[0])
    assert after["felt"] != before["felt"]
    for key in ("before", "planned", "reached", "again"):
        assert after[key] == before[key]  # type: ignore[literal-required]


def test_what_was_asked_comes_before_an_unchanged_case(book: Casebook) -> None:
    hurts = CASE_TEXT.replace("person:\n", "person:\n  discomfort: {neck: 5, eyes: 3}\n", 1)
    book.add_visit("anna", visit(text=hurts), felt(("neck", 5, 2))[:1])
    case, later = case_of_visit(visit(text=hurts)), date(2026, 3, 15)
    assert discomfort_told(case, later, book.person("anna")) == ()
    book.add_felt("anna", felt(("neck", 5, 2))[1:])
    told_anew = hurts.replace("neck: 5, eyes: 3", "neck: 4, eyes: 1")
    told = discomfort_told(case_of_visit(visit(text=told_anew)), later, book.person("anna"))
    assert [(one.region, one.rating) for one in told] == [("eyes", 1)]


def test_ratings_that_the_case_has_not_are_told(book: Casebook, shop: tuple[Catalog, PriceTable]) -> None:
    book.add_felt("anna", felt(("neck", 5, 2)))
    hurts = CASE_TEXT.replace("person:\n", "person:\n  discomfort: {neck: 5}\n", 1)
    found = again(book, shop, text=hurts)
    text = " ".join(recheck_text(found, shop[0]).split())
    assert "What was felt last is not what the case says: neck 2." in text


def test_a_case_measured_with_all_in_place_is_noticed(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    assert RAISED != CASE_TEXT
    found = again(book, shop, crate(80), text=RAISED)
    assert found.doubled == ("den.crate_feet=80",)
    assert "say --measured" in " ".join(recheck_text(found, shop[0]).split())


def test_measured_with_it_what_shows_is_not_added_and_what_does_not_is_told(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    found = again(book, shop, crate(80), done("bell", decision="breaks"), text=RAISED, measured=True)
    assert found.doubled == ()
    assert found.in_place == ("den.crate_feet=80",)
    assert found.added == ()
    assert [(one.option.with_name, one.keys) for one in found.missing] == [("bell", ("tasks.spell",))]
    text = " ".join(recheck_text(found, shop[0]).split())
    assert "bell stands as done and does not show in the case, so it is not counted" in text


def test_measured_what_the_case_leaves_out_is_counted_as_the_casebook_has_it(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    silent = re.sub(r"\n *spell: .*", "", RAISED)
    assert silent != RAISED
    book.add_visit("anna", visit("bell", text=silent))
    found = again(book, shop, crate(80), done("bell", decision="breaks"), text=silent, measured=True)
    assert found.added == ("bell",)
    assert found.missing == ()
    assert "bell" in [one.with_name for one in found.reached.assessment.options]


@pytest.mark.parametrize("size", [40, 55])
def test_the_plan_from_there_is_a_case_that_plans_alike(
    book: Casebook, shop: tuple[Catalog, PriceTable], size: int
) -> None:
    """What stands counts in now, is bought and done no more, and the file gives the same document.

    So it is at a size that lies between those of the catalog too.
    """
    crates = shop[0].items["crate"].model_copy(update={"sized": True})
    shop = (replace(shop[0], items={**shop[0].items, "crate": crates}), shop[1])
    found = again(book, shop, crate(size), done("bell", "given_up", decision="breaks"))
    assert stands(found)["den.crate_feet=80"] == "other_size"
    written = follow_up_text(CASE_TEXT, found)
    case = case_of_bytes(written.encode(), "next.yaml")
    assert case.in_place == (f"den.crate_feet={size}",)
    assert case.owns["crate"].count == 1
    assert {"bell", "den.crate_feet=80"} <= set(case.wishes.never)
    best = plan(case, *shop)
    assert plan_document(best, shop[0]) == plan_document(found.again, shop[0])
    assert best.before.total == assess(case, *shop).strain.total == found.reached.assessment.strain.total
    assert best.cost == 0
    assert [option.with_name for option in best.stays] == [f"den.crate_feet={size}"]
    text = " ".join(plan_text(best, *shop).split())
    assert f"In place already, and stays: Crate under the feet: {size} mm." in text
    named = assess(case, *shop, [step.option.with_name for step in best.steps])
    assert (named.strain.total, named.bill.total) == (best.after.total, best.cost)
    assert follow_up_text(written, found) == written


def test_only_what_is_cut_or_bought_in_its_size_is_kept_in_it(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    """A crate that serves at any size may be set to another, as in the stages of a plan."""
    found = again(book, shop, crate(40))
    case = case_of_bytes(follow_up_text(CASE_TEXT, found).encode(), "next.yaml")
    assert case.wishes.never == ()
    assert found.again.cost == 0
    assert plan_document(plan(case, *shop), shop[0]) == plan_document(found.again, shop[0])


def test_what_stands_and_is_done_without_is_taken_away(shop: tuple[Catalog, PriceTable]) -> None:
    text = CASE_TEXT + "in_place: [den.crate_feet=120]\nwishes: {never: [den.crate_feet]}\n"
    best = plan(case_of_visit(visit(text=text)), *shop)
    assert [option.with_name for option in best.does_without] == ["den.crate_feet=120"]
    told = " ".join(plan_text(best, *shop).split())
    assert "Take away or undo: Crate under the feet: 120 mm" in told or "No longer needed" in told


def test_all_of_a_plan_gives_up_what_it_does_without(
    book: Casebook, shop: tuple[Catalog, PriceTable]
) -> None:
    book.add_done("anna", [crate(80)])
    follows = replace(
        visit("bell", day=date(2026, 3, 15)), plan='{"does_without": ["den.crate_feet=80", "gone"]}'
    )
    book.add_visit("anna", follows)
    assert no_longer_wanted(book.person("anna")) == ["den.crate_feet=80"]


def test_a_book_serves_one_thing_at_a_time() -> None:
    text = CASE_TEXT + "owns: {hardback_book: [38, 42, 25]}\n"
    person = PersonBook(
        key="k17",
        visits=(visit(text=text),),
        done=(done("den.feet_book=80", decision="den.feet"),),
        felt=(),
        notes=(),
        exports=(),
    )
    for name, refused in (("den.screen_books=80", True), ("den.screen_books=25", False)):
        entries = Entries()
        steps_done(person, [name], SHIPPED, DAY, "kept", "", entries)
        assert bool(entries.faults) is refused, name
        assert all("den.feet_book=80" in fault.hint for fault in entries.faults)


def test_a_name_without_a_size_means_the_size_of_the_plan() -> None:
    text = CASE_TEXT + "owns: {hardback_book: [38, 42, 25]}\n"
    person = PersonBook(
        key="k17",
        visits=(visit("den.feet_book=80", text=text),),
        done=(),
        felt=(),
        notes=(),
        exports=(),
    )
    entries = Entries()
    (step,) = steps_done(person, ["feet_book"], SHIPPED, DAY, "kept", "", entries)
    assert (step.name, entries.faults) == ("den.feet_book=80", [])


def test_what_was_done_may_have_any_size_between_those_of_the_catalog() -> None:
    person = PersonBook(key="k17", visits=(visit(),), done=(), felt=(), notes=(), exports=())
    for name, allowed in (
        ("seat_cushion=50", ""),
        ("seat_cushion=52.5", ""),
        ("seat_cushion=300", "seat_cushion=VALUE with a size from 40 to 80"),
        ("seat_cushion=1e1", "seat_cushion=VALUE with a size from 40 to 80"),
    ):
        entries = Entries()
        steps = steps_done(person, [name], SHIPPED, DAY, "kept", "", entries)
        assert [one.name for one in steps] == ([] if allowed else [f"den.{name}"])
        assert [fault.allowed for fault in entries.faults] == ([allowed] if allowed else [])


def test_keys_named_for_a_measured_case_are_those_of_a_case() -> None:
    schema = Path(__file__).resolve().parents[2] / "docs" / "schemas" / "deskmend-case-1.schema.json"
    text = schema.read_text(encoding="utf-8")
    for key in KEYS.values():
        assert f'"{key.rpartition(".")[2]}"' in text, key
