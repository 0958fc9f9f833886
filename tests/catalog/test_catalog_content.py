"""The shipped catalog says what it must, contradicts nothing, and prices what can be bought."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import pytest
import yaml

from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.catalog_records import Fix, Need
from deskmend.intake.prices import load_prices
from deskmend.measures import currencies
from deskmend.workstation.fields import FIELDS

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "catalog"
SAMPLES = sorted((FOLDER / "prices").glob("sample_*.csv"))
CATALOG = load_catalog()

NO_FIELDS = {"task.place", "seat"}
"""Changes that the planner carries out itself."""
SEAT_FIELDS = {
    "seat.height",
    "seat.depth",
    "seat.slope",
    "seat.surface",
    "seat.pressure",
    "seat.back",
    "seat.recline",
    "seat.armrests",
    "seat.base",
    "seat.material",
    "seat.foot_ring",
}
"""What another seat brings along, all of it set."""
TOOLS = {"scissors", "needle", "saw", "screwdriver", "drill", "spanner", "hammer", "knife"}


def of_every_fix(test: Callable[[Fix], None]) -> Callable[[], None]:
    """One test for all fixes; a fault tells whose it is."""

    def every() -> None:
        for fix in CATALOG.fixes:
            try:
                test(fix)
            except Exception as fault:
                fault.add_note(f"fix {fix.id}")
                raise

    every.__doc__ = test.__doc__
    return every


def fields_set(fix: Fix) -> set[str]:
    names = {effect.change for effect in fix.effects if effect.operation == "set"}
    return (names - {"seat"}) | (SEAT_FIELDS if "seat" in names else set())


def texts(fix: Fix) -> list[str]:
    out = [fix.title, fix.short or "", *(one.say for _, one in fix.sentences)]
    out += [need.why for need in fix.needs] + [caveat.why for caveat in fix.not_for]
    out += [part for watch in fix.watch for part in (watch.happens, watch.then)]
    return out + [note.finding for note in fix.evidence]


def rules_naming(fix: Fix, predicate: str) -> list[Need]:
    return [need for need in fix.needs if predicate in map(str, (*need.all, *need.any))]


# --- every fix ------------------------------------------------------------------------------------


@of_every_fix
def test_fix_says_how_when_it_is_right_and_what_stands_behind_it(fix: Fix) -> None:
    assert 2 <= len(fix.how) <= 6
    assert fix.right or fix.checks
    assert fix.side_effects
    assert fix.evidence


@of_every_fix
def test_fix_takes_materials_if_it_is_made_or_bought_and_none_otherwise(fix: Fix) -> None:
    assert bool(fix.materials) == (fix.kind in ("made", "bought"))


@of_every_fix
def test_fix_takes_at_least_five_minutes(fix: Fix) -> None:
    assert fix.minutes >= 5
    assert fix.kind != "rearranged" or fix.skill == 1


@of_every_fix
def test_fix_asks_only_for_tools_that_people_know(fix: Fix) -> None:
    assert set(fix.tools) <= TOOLS
    assert fix.kind == "made" or not set(fix.tools) - {"scissors"} or fix.id == "armrests_off"


@of_every_fix
def test_fix_changes_fields_that_exist_by_words_and_numbers_that_they_take(fix: Fix) -> None:
    for effect in fix.effects:
        if effect.change in NO_FIELDS:
            assert effect.value == "size"
            continue
        field = FIELDS[effect.change]
        if effect.value == "size":
            words = fix.size.words if fix.size is not None else ()
            assert not words or set(words) <= set(field.words)
        elif field.is_number:
            assert isinstance(effect.value, float)
            assert effect.operation == "add" or field.low <= effect.value <= field.high
        else:
            assert effect.value in field.words


@of_every_fix
def test_fix_states_no_need_that_its_own_change_defeats(fix: Fix) -> None:
    """Needs are rules on the final state, so one on a word that the fix itself sets could never hold."""
    own = {e.change: e.value for e in fix.effects if e.operation == "set" and isinstance(e.value, str)}
    for need in fix.needs:
        for predicate in (*need.all, *need.any):
            if predicate.relation == "is" and own.get(predicate.name, "size") != "size":
                assert own[predicate.name] == predicate.value


@of_every_fix
def test_chosen_size_is_told_in_the_steps_of_what_is_cut_set_or_stacked(fix: Fix) -> None:
    assert (fix.size is not None) == any("{size}" in step.say for step in fix.how)
    assert {part for text in texts(fix) for part in re.findall(r"\{[^}]*\}?", text)} <= {"{size}", "{length}"}


@of_every_fix
def test_words_are_plain(fix: Fix) -> None:
    for text in texts(fix):
        assert text[0].isupper() or text[0].isdigit()
        assert text == text.strip()
        assert text == fix.title or text.endswith(".")
        assert not re.search(r"[^\x20-\x7e]", text)
        assert max(len(sentence.split()) for sentence in re.split(r"[.:;]\s", text)) <= 36


@of_every_fix
def test_words_promise_no_cure(fix: Fix) -> None:
    """The project speaks of exposure removed; only findings of studies may speak of pain that changed."""
    promising = re.compile(
        r"\b(prevents?|cures?|heals?|relieves?|avoids? (pain|injury)|pain-free|healthy)\b", re.I
    )
    findings = {note.finding for note in fix.evidence}
    for text in texts(fix):
        assert text in findings or not promising.search(text)


@of_every_fix
def test_cutting_asks_for_care(fix: Fix) -> None:
    if set(fix.tools) & {"saw", "knife", "drill"}:
        assert any(re.search(r"hand|fingers|clamp|eye", caution.say, re.I) for caution in fix.cautions)


@of_every_fix
def test_what_has_to_be_sewn_takes_thread_and_needle(fix: Fix) -> None:
    told = (fix.short, *(sentence.say for sentence in fix.how))
    sewn = any(
        re.search(r"\bsew(n|ed)?\b", text, re.I) and not re.search(r"\bor sew|sew or\b", text, re.I)
        for text in told
    )
    taken = {material.item for material in fix.materials}
    assert not sewn or ({"scissors", "needle"} <= set(fix.tools) and "sewing_thread" in taken)


@pytest.mark.parametrize("name", ["tape", "cotton_tape", "cord", "sewing_thread"])
def test_what_is_cut_off_a_roll_or_reel_may_serve_several_people_of_a_fund(name: str) -> None:
    assert any(one.item == name for fix in CATALOG.fixes for one in fix.materials)
    assert CATALOG.items[name].shared


@of_every_fix
def test_what_alters_furniture_asks_the_owner(fix: Fix) -> None:
    assert not fix.alters or (fix.leave == "owner" and fix.kind == "made")


# --- safety ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["screen_books", "screen_box", "screen_stand", "screen_shelf"])
def test_raised_laptop_takes_keyboard_and_mouse_and_a_level_desk(name: str) -> None:
    fix = CATALOG.by_id[name]
    bundle = [
        n for n in fix.needs if [str(p) for p in n.when] == ["screen.tool is laptop", "screen.raise over 30"]
    ]
    assert [str(p) for need in bundle for p in need.all] == ["keyboard is separate", "mouse is separate"]
    assert rules_naming(fix, "desk.tilt at most 0")
    assert any("multifocal" in caution.say for caution in fix.cautions)


@pytest.mark.parametrize("name", ["seat_blanket", "seat_foam", "seat_cushion"])
def test_pad_is_not_for_stools_or_broken_skin(name: str) -> None:
    fix = CATALOG.by_id[name]
    rules = rules_naming(fix, "seat.base is not stool")
    assert [str(p) for need in rules for p in need.when] == ["seat.base is stool"]
    assert any({"seat.back is flat", "seat.base is legs"} <= set(map(str, need.any)) for need in fix.needs)
    assert [caveat.sign for caveat in fix.not_for] == ["broken_or_numb_skin"]


def test_blanket_slides_and_tied_pads_do_not() -> None:
    loose = {f.id: e.value for f in CATALOG.fixes for e in f.effects if e.change == "seat.loose"}
    assert {name for name, word in loose.items() if word == "no"} == {"seat_foam", "seat_cushion"}
    for name in ("seat_wedge", "seat_air"):
        assert rules_naming(CATALOG.by_id[name], "seat.held is yes")


def test_blocks_go_only_under_fixed_legs_and_no_glass() -> None:
    fix = CATALOG.by_id["desk_blocks"]
    for condition in ("desk.legs is fixed", "desk.top is not glass", "feet.on is not foot_bar"):
        assert rules_naming(fix, condition)
    assert fix.alters


def test_standing_by_turns_wants_a_seat_to_turn_to() -> None:
    """A place for standing only has no known seat, and none may be invented for it."""
    needs = CATALOG.by_id["stand_by_turns"].needs
    assert any("seat.base is legs" in map(str, need.any) for need in needs)


def test_moving_a_foot_bar_counts_only_where_it_is_in_the_way() -> None:
    assert [(e.change, e.value) for e in CATALOG.by_id["foot_bar_clear"].effects] == [
        ("desk.bar_blocks", "no")
    ]


def test_foot_bar_is_replaced_before_it_is_taken_off_and_feet_get_another_place() -> None:
    fix = CATALOG.by_id["foot_bar_clear"]
    made, taken = (
        next(i for i, s in enumerate(fix.how) if word in s.say) for word in ("new bar on", "take the old bar")
    )
    assert made < taken
    assert rules_naming(fix, "feet.on is floor") == rules_naming(fix, "feet.on is other") != []


def test_back_supports_need_a_back_and_stay_off_the_spines_the_trial_left_out() -> None:
    """Williams and others 1991 (n 210) warn of rolls with these; the list of signs is from memory."""
    for fix in CATALOG.fixes:
        if fix.decision in ("back_support", "back_hold", "seat_depth"):
            signs = {c.sign for c in fix.not_for if c.sign is not None}
            assert signs == {"stenosis_or_spondylolisthesis", "recent_surgery"}
            assert rules_naming(fix, "seat.back is not none")


def test_signs_block_the_decisions_they_forbid() -> None:
    blocks = {sign.id: set(sign.blocks) for sign in CATALOG.signs if sign.blocks}
    back = {"back_support", "back_hold", "seat_depth"}
    assert blocks == {
        "broken_or_numb_skin": {"seat_surface"},
        "stenosis_or_spondylolisthesis": back,
        "recent_surgery": back,
    }


def test_what_needs_emergency_care_and_what_advice_today() -> None:
    """The rest asks for a clinician; ids that people's files may hold stay."""
    named = {
        urgency: {sign.id for sign in CATALOG.signs if sign.urgency == urgency}
        for urgency in ("emergency", "today", "soon")
    }
    assert named["emergency"] == {
        "saddle_numbness",
        "bladder_bowel_change",
        "leg_weakness_or_both_legs",
        "chest_arm_jaw_pain",
        "sudden_weakness_face_speech",
        "sudden_headache_or_sight_loss",
    }
    assert named["today"] == {
        "hot_swollen_calf",
        "fever_with_back_pain",
        "after_fall_or_crash",
        "clumsy_hands_unsteady_walk",
    }
    assert {
        "night_or_rest_pain",
        "weight_loss",
        "past_cancer_steroids_weak_bones",
        "numb_or_weak_hand",
        "long_morning_stiffness",
        "six_weeks_or_rising",
        "broken_or_numb_skin",
        "stenosis_or_spondylolisthesis",
        "late_pregnancy",
        "recent_surgery",
    } == named["soon"]


# --- together -------------------------------------------------------------------------------------


def test_a_conflict_is_written_once_read_at_both_and_between_decisions() -> None:
    written = [
        (fix["id"], other)
        for file in sorted((CATALOG.folder / "fixes").glob("*.yaml"))
        for fix in yaml.safe_load(file.read_text(encoding="utf-8"))["fixes"]
        for other in fix.get("conflicts", ())
    ]
    assert len(written) > 20
    assert len({frozenset(pair) for pair in written}) == len(written)
    read = {(fix.id, other) for fix in CATALOG.fixes for other in fix.conflicts}
    assert read == {*written, *((other, one) for one, other in written)}
    assert all(CATALOG.by_id[one].decision != CATALOG.by_id[other].decision for one, other in read)


def test_fixes_that_set_the_same_field_exclude_each_other() -> None:
    for one, other in combinations(CATALOG.fixes, 2):
        if one.decision != other.decision and fields_set(one) & fields_set(other):
            assert other.id in one.conflicts


def test_fixes_of_a_decision_share_scope_and_stage() -> None:
    """What moves the furniture itself, or the task, comes first, whatever the decision it belongs to."""
    seen: dict[str, set[tuple[str, str]]] = {}
    for fix in CATALOG.fixes:
        if fix.stage != "room":
            seen.setdefault(fix.decision, set()).add((fix.scope, fix.stage))
    assert {name: kinds for name, kinds in seen.items() if len(kinds) > 1} == {}
    assert [fix.id for fix in CATALOG.fixes if fix.stage == "room"] == ["desk_turn_window", "place"]


def test_what_stands_on_the_desk_is_not_raised_twice() -> None:
    blocks = CATALOG.by_id["desk_blocks"]
    assert [effect.change for effect in blocks.effects] == ["desk.height"]
    raising = {f.id for f in CATALOG.fixes for e in f.effects if e.change == "screen.raise"}
    assert raising == {"screen_books", "screen_box", "screen_stand", "screen_shelf"}


def test_no_fix_names_a_score() -> None:
    assert {effect.change for fix in CATALOG.fixes for effect in fix.effects} <= set(FIELDS) | NO_FIELDS


# --- items and prices -----------------------------------------------------------------------------


def test_the_sample_prices_the_whole_catalog() -> None:
    for sample in SAMPLES:
        assert set(load_prices(sample).items) == set(CATALOG.items)


def test_every_item_is_used() -> None:
    used = {m.item for fix in CATALOG.fixes for m in fix.materials}
    used |= {w.item for fix in CATALOG.fixes for w in fix.watch if w.item is not None}
    assert set(CATALOG.items) == used


def test_what_costs_nothing_needs_nothing_that_costs() -> None:
    for fix in CATALOG.fixes:
        if fix.kind in ("rearranged", "habit"):
            assert fix.materials == ()


def test_sample_says_that_it_is_invented_in_every_row() -> None:
    assert [path.name for path in SAMPLES] == ["sample_eur.csv", "sample_jpy.csv", "sample_kwd.csv"]
    for sample in SAMPLES:
        lines = sample.read_text(encoding="utf-8").splitlines()
        assert "nvented" in lines[0]
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
        assert {row["source"] for row in rows} == {"invented sample"}
        assert {f"sample_{row['currency'].lower()}.csv" for row in rows} == {sample.name}
        assert {row["as_of"] for row in rows} == {"2026-10-01"}


def test_sample_prices_lie_between_their_ends_and_fall_in_bulk() -> None:
    for sample in SAMPLES:
        for item in load_prices(sample).items.values():
            assert 0 < item.low <= item.price <= item.high
            assert all(tier.price < item.price for tier in item.tiers)


def test_samples_differ_in_currency_decimals_and_level() -> None:
    """Decimals of EUR, JPY and KWD: 2, 0 and 3 (ISO 4217)."""
    assert [currencies()[load_prices(sample).currency] for sample in SAMPLES] == [2, 0, 3]


# --- sources --------------------------------------------------------------------------------------


def cited_in_code() -> set[str]:
    files = [*(ROOT / "src").rglob("*.py"), *(ROOT / "src").rglob("*.csv")]
    words = (re.findall(r"[a-z][a-z0-9_]+", file.read_text(encoding="utf-8")) for file in files)
    return {word for found in words for word in found}


def test_every_source_is_cited_by_a_fix_or_in_the_code() -> None:
    cited = {note.source for one in (*CATALOG.fixes, *CATALOG.advice) for note in one.evidence}
    cited |= {key for fix in CATALOG.fixes if fix.kept_up is not None for key in fix.kept_up.sources}
    assert set(CATALOG.sources) - cited - cited_in_code() == set()


def test_every_source_of_the_severity_curves_is_registered() -> None:
    table = ROOT / "src" / "deskmend" / "risk" / "tables" / "severity.csv"
    rows = csv.DictReader(
        line for line in table.read_text(encoding="utf-8").splitlines() if not line.startswith("#")
    )
    cited = {key for row in rows for key in row["source"].split()}
    assert {key for key in cited if key not in CATALOG.sources} == set()


def test_practice_is_no_source_and_carries_no_grade_above_d() -> None:
    assert CATALOG.sources["practice"].title == "Common practice of the trade, no source"
    notes = [note for fix in CATALOG.fixes for note in fix.evidence if note.source == "practice"]
    assert {(note.grade, note.tested) for note in notes} == {("D", "none")}


# --- evidence against -----------------------------------------------------------------------------

AGAINST = {
    "seat_blanket": "channak_2024",
    "seat_foam": "channak_2024",
    "seat_cushion": "channak_2024",
}


@pytest.mark.parametrize(("name", "source"), AGAINST.items())
def test_plain_pad_shows_that_it_was_the_placebo(name: str, source: str) -> None:
    """Channak and others 2024, n 133 (facts: confirmed): a plain pad was the placebo of the trial."""
    notes = [note for note in CATALOG.by_id[name].evidence if note.source == source]
    assert [(note.verdict, note.n, note.grade) for note in notes] == [("was_placebo", 133, "A")]


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("seat_foam", "kim_chang_2013"),
        ("seat_cushion", "kim_chang_2013"),
        ("back_towel", "takasaki_2025"),
        ("back_contoured", "practice"),
        ("back_towel", "bendix_1996"),
        ("screen_books", "gerr_2005"),
        ("forearm_board", "hoe_2018"),
        ("stand_by_turns", "standing_review_2020"),
        ("break_timer", "luger_2019"),
        ("screen_books", "van_eerd_2016"),
        ("seat_height", "van_eerd_2016"),
        ("desk_adjust", "van_eerd_2016"),
        ("desk_edge_foam", "palm_support_study"),
        ("middle", "ariens_2001"),
    ],
)
def test_study_that_found_no_benefit_is_shown(name: str, source: str) -> None:
    notes = [note for note in CATALOG.by_id[name].evidence if note.source == source]
    assert [note.verdict for note in notes] == ["no_benefit_shown"]


def test_no_fix_cites_a_source_twice() -> None:
    for fix in CATALOG.fixes:
        repeated = [key for key, n in Counter(note.source for note in fix.evidence).items() if n > 1]
        assert repeated == []


def test_shipped_folder_is_this_catalog() -> None:
    shipped: Catalog = load_catalog()
    assert [fix.id for fix in shipped.fixes] == [fix.id for fix in CATALOG.fixes]
