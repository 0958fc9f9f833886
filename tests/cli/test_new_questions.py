"""``new``: asks, checks each answer as it is given, can be stopped and taken up, writes a case that holds."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from tests.stages import examples

from deskmend.api import load_case, load_catalog
from deskmend.cli import deskmend
from deskmend.errors import Unreadable
from deskmend.intake.case_file import read_case
from deskmend.intake.interview import Question, plain_case, questions, read_answer, screens, to_ask
from deskmend.intake.reading.records import GivenMeasure
from deskmend.report.forms.interview import SIGN_GROUPS, choice_groups, interview_case, where_text, wording

from .conftest import ROOT, Run

ANSWERS = {
    "task.hours": "5",
    "task.main": "1",
    "person.stature": "5 ft 4 in",
    "seat.height": "465",
    "desk.height": "755",
    "laptop.screen_top": "23,2 cm",
    "owns.books": "yes",
    "owns.book_thickness": "38 42 25",
    "owns.towel": "yes",
    "owns.carton": "yes",
    "owns.blanket": "no",
    "owns.binder": "",
    "person.warning_signs": "none",
    "body.sitting_elbow_height": "",
    "body.popliteal_height": "1 A4 + 1 card",
    "task.spell": "90",
    "task.reference": "paper",
    "paper.at": "left",
    "task.writing": "yes",
    "laptop.screen_height": "190",
    "laptop.keys": "20",
    "inputs": "both_built_in",
    "seat.depth": "43 cm",
    "seat.surface": "hard",
    "seat.back": "2",
    "desk.underside": "",
    "place.feet_on": "foot bar",
    "desk.foot_bar": "140",
    "person.stature_from": "measured",
    "person.age": "",
    "person.sex": "female",
    "person.eyewear": "none",
    "person.discomfort": "neck 6, lower back 3",
    "person.cannot_stand": "yes",
    "means.tools": "scissors",
    "means.skill": "2",
    "means.may_alter": "no",
    "room.landlord_leave": "",
    "wishes.never": "1, 3",
    "means.currency": "eur",
    "means.budget": "25,00",
}
BY_HAND = """
format: deskmend-case/1
title: My workplace
person:
  stature: {value: "5'4", from: taped}
  sex: female
  eyewear: none
  body: {popliteal_height: 382.6}
  discomfort: {neck: 6, lower_back: 3}
  warning_signs: []
  cannot_stand: no
places:
  - id: home
    seat: {height: "46,5 cm", depth: 430, surface: hard, back: flat}
    desk: {height: 75.5 cm, foot_bar: 140}
    feet_on: foot_bar
devices:
  laptop: {screen_top: 232, screen_height: 190, keys: 20}
  keyboard: built_in
  mouse: touchpad
tasks:
  - {id: work, place: home, hours: 5, spell: 90, main: laptop, reference: paper, writing: yes,
     paper: {at: left}}
owns: {hardback_book: [38, 42, 25], bath_towel: 1, carton_box: 1, blanket: 0}
means: {currency: EUR, budget: "25.00", skill: 2, tools: [scissors], may_alter: no}
wishes: {never: [stand_by_turns, mouse_other_hand]}
"""
FIRST = 13
"""Answers of the first round."""

CATALOG = load_catalog()
EVERY = questions(CATALOG)
EVERY_BY_KEY = {one.key: one for one in EVERY}


def ask(file: Path, *lines: str, options: tuple[str, ...] = ()) -> Result:
    return CliRunner().invoke(
        deskmend, ["new", str(file), *options], input="".join(f"{line}\n" for line in lines)
    )


def told(result: Result) -> str:
    """What was said, without line ends."""
    return " ".join(result.stdout.split())


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "mine.yaml"


@pytest.fixture
def written(file: Path) -> Path:
    result = ask(file, *ANSWERS.values())
    assert result.exit_code == 0, result.output
    return file


def test_answers_become_a_case(written: Path) -> None:
    case = load_case(written)
    assert case.person.stature == pytest.approx(64 * 25.4)  # 5 ft 4 in
    assert case.person.body.popliteal_height == pytest.approx(297 + 85.6)
    assert case.person.body.sitting_elbow_height is None
    assert case.person.discomfort.neck == 6
    assert case.person.discomfort.lower_back == 3
    place, task = case.places[0], case.tasks[0]
    assert place.seat is not None
    assert (place.seat.depth, place.seat.back, place.feet_on) == (430, "flat", "foot_bar")
    assert (place.desk.foot_bar, place.desk.underside) == (140, None)
    assert (task.main, task.reference, task.writing, task.paper.at) == ("laptop", "paper", True, "left")
    assert (case.devices.keyboard, case.devices.mouse) == ("built_in", "touchpad")
    assert case.owns["hardback_book"].pieces == (38, 42, 25)
    assert [case.owns[thing].count for thing in ("carton_box", "bath_towel", "blanket")] == [1, 1, 0]
    assert "ring_binder" not in case.owns
    assert (case.means.currency, case.means.budget, case.means.tools) == ("EUR", 2500, ("scissors",))


def test_the_same_answers_written_by_hand_give_the_same_case(written: Path) -> None:
    by_hand = written.with_name("by_hand.yaml")
    by_hand.write_text(BY_HAND, encoding="utf-8")
    assert load_case(by_hand).model_dump() == load_case(written).model_dump()


def test_the_case_can_be_checked_and_planned_and_the_answers_are_gone(run: Run, written: Path) -> None:
    assert [one.name for one in written.parent.iterdir()] == ["mine.yaml"]
    assert run("check", str(written)).stdout == f"{written}: no faults (case)\n"
    result = run("plan", str(written), "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["steps"]


def test_only_what_is_needed_may_not_be_left_out(file: Path) -> None:
    assert [one for one in short_way() if EVERY_BY_KEY[one].needed] == [
        "task.hours",
        "task.main",
        "person.stature",
        "seat.height",
        "desk.height",
        "laptop.screen_top",
        "person.warning_signs",
    ]
    result = ask(file, *(ANSWERS[key] if EVERY_BY_KEY[key].needed else "" for key in short_way()))
    assert result.exit_code == 0, result.output
    assert load_case(file).person.sex == "unknown"


def short_way() -> list[str]:
    """Questions asked where everything that may be is left out."""
    answers: dict[str, str | None] = {}
    while (question := to_ask(EVERY, answers)) is not None:
        text = ANSWERS[question.key]
        answers[question.key] = read_answer(question, text, answers, EVERY) if question.needed else None
    return list(answers)


def test_every_line_left_out_can_be_put_to_use(file: Path) -> None:
    ask(file, *(ANSWERS[key] if EVERY_BY_KEY[key].needed else "" for key in short_way()))
    text = file.read_text(encoding="utf-8")
    opened, count = re.subn(r"^#(?=(?:  )*[a-z_]+:)", "", text, flags=re.MULTILINE)
    assert count > 20
    file.write_text(opened, encoding="utf-8")
    case = load_case(file)
    assert case.means.budget == 4000
    # What follows from the height is unknown behind the #, so that taking that away alone changes nothing.
    assert case.person.body.sitting_elbow_height is None
    assert case.person.body.popliteal_height is None


def test_every_question_stands_in_the_file_with_its_words(written: Path) -> None:
    text = written.read_text(encoding="utf-8")
    given = {key: value or None for key, value in ANSWERS.items()}
    assert [one.key for one in EVERY if one.asked(given) and wording(one, given).ask not in text] == []


def test_leaving_out_tells_what_it_costs(file: Path) -> None:
    result = ask(file, *list(ANSWERS.values())[:FIRST])
    # ANSUR II fits: residual standard deviation 26.1 mm for women, 27 mm for both sexes
    assert "which hardly tells it: two people in three lie within 27 mm of that." in told(result)
    for question in EVERY:
        assert bool(wording(question, {}).left_out) is not question.needed, question.key


@pytest.mark.parametrize(("main", "number"), [("laptop", 8), ("monitor", 8), ("paper", 7)])
def test_a_first_plan_takes_eight_questions_at_most(main: str, number: int) -> None:
    answers = {"task.main": main}
    assert len(screens(EVERY, answers, first=True)) == number
    assert len(screens(EVERY, {}, first=True)) == 8
    hours, last = EVERY_BY_KEY["task.hours"], EVERY_BY_KEY["person.warning_signs"]
    assert where_text(hours, {}, EVERY) == "Question 1 of 8"
    assert where_text(last, answers, EVERY) == f"Question {number} of {number}"


def test_signs_are_asked_by_how_urgent_they_are_and_written_as_people_do() -> None:
    signs = EVERY_BY_KEY["person.warning_signs"]
    groups = choice_groups(signs, {})
    shown = [word for _, group in groups for word, _ in group]
    assert shown == list(signs.words)
    assert {said for said, _ in groups} == set(SIGN_GROUPS.values())
    assert signs.read("11 and 14", {}) == signs.read("11, 14", {}) == f"{shown[10]}, {shown[13]}"
    urgency = {sign.id: sign.urgency for sign in CATALOG.signs}
    assert all(SIGN_GROUPS[urgency[word]] == said for said, group in groups for word, _ in group)


def test_eight_answers_give_a_plan_and_the_measure_to_take_next(run: Run, file: Path) -> None:
    given = {**ANSWERS, "person.stature": "163", "owns.carton": "no", "owns.binder": "yes"}
    lines = [*list(given.values())[:FIRST], "plan", "390", "done"]
    result = ask(file, *lines)
    assert result.exit_code == 0, result.output
    assert "Enough for a first plan" in result.stdout
    assert "Thick books under the feet" in result.stdout
    assert "Asked next is the measure that the plan hangs on most." in result.stdout
    assert f"bring more into the plan: {EVERY_BY_KEY['seat.surface'].ask}" in told(result)
    # The knee is what this plan hangs on, and it is asked before the elbow, which comes first by the table.
    assert load_case(file).person.body.popliteal_height == 390
    assert json.loads(run("plan", str(file), "--json").stdout)["steps"]


def test_a_pipe_that_ends_after_the_first_round_gives_a_case(file: Path) -> None:
    assert ask(file, *list(ANSWERS.values())[:FIRST]).exit_code == 0
    case = load_case(file)
    assert case.devices.laptop is not None
    assert isinstance(case.devices.laptop.keys, GivenMeasure)
    assert (case.devices.laptop.keys, case.devices.laptop.keys.origin) == (20, "estimated")


def test_done_waits_for_what_is_needed(file: Path) -> None:
    result = ask(file, "5", "done", *list(ANSWERS.values())[1:FIRST], "done")
    assert result.exit_code == 0
    assert "A few more are needed first" in result.stdout


def test_a_stopped_interview_goes_on_to_the_same_file(file: Path, tmp_path: Path) -> None:
    lines = list(ANSWERS.values())
    stopped = ask(file, *lines[:11])
    assert stopped.exit_code == 130
    assert "the same command goes on from there" in stopped.stderr
    assert [one.name for one in tmp_path.iterdir()] == ["mine.yaml.answers"]
    gone_on = ask(file, "", *lines[11:])
    assert "with 11 answers" in gone_on.stdout
    assert gone_on.exit_code == 0
    at_once = tmp_path / "other.yaml"
    assert ask(at_once, *lines).exit_code == 0
    assert file.read_bytes() == at_once.read_bytes()
    assert sorted(one.name for one in tmp_path.iterdir()) == ["mine.yaml", "other.yaml"]


def test_a_stopped_interview_can_begin_again(file: Path) -> None:
    ask(file, "11", "30")
    assert ask(file, "what", "new", *ANSWERS.values()).exit_code == 0
    assert load_case(file).tasks[0].hours == 5


def test_stopping_before_the_first_answer_leaves_nothing(file: Path) -> None:
    assert ask(file).exit_code == 130
    assert list(file.parent.iterdir()) == []


@pytest.mark.parametrize(
    ("key", "typed", "meant"),
    [
        ("task.main", "Papel", "paper"),
        ("task.main", "portátil", "laptop"),
        ("paper.at", "a la izquierda", "left"),
        ("seat.surface", "duro", "hard"),
        ("seat.back", "sin respaldo", "none"),
    ],
)
def test_words_of_a_reader_are_understood(key: str, typed: str, meant: str) -> None:
    (question,) = [one for one in questions(load_catalog()) if one.key == key]
    assert question.word_meant(typed, tuple(question.words)) == meant


@pytest.mark.parametrize(
    ("before", "typed", "said"),
    [
        ("task.hours", "all day", "0.05 to 24 h, as 5, 4.5 or 4 h 30"),
        ("task.spell", "400", "at most 300 min, by another answer"),
        ("task.main", "labtop", "did you mean laptop?"),
        ("task.reference", "laptop", "or none, monitor, paper"),
        ("person.stature", "64", "64 mm cannot be. Usual is 1400 to 2000 mm. Did you mean 1626 mm?"),
        ("seat.height", "4,65 m", "Did you mean 465 mm?"),
        ("desk.height", "29", "Did you mean 737 mm?"),
        ("desk.underside", "755", "less than 755 mm, by another answer"),
        ("laptop.screen_height", "240", "at most 232 mm, by another answer"),
        ("person.discomfort", "nek 6", "did you mean neck?"),
        ("person.warning_signs", "", "This one is needed"),
        ("person.warning_signs", "77", "numbers from 1 to"),
        ("owns.books", "4", "allowed: yes or no"),
        ("owns.book_thickness", "4", "4 could be how many there are; allowed: the thickness of each"),
        ("owns.book_thickness", "4 mm", "4 mm is unlikely. Usual is 10 to 90 mm. Did you mean 40 mm?"),
        ("means.currency", "euro", "ISO 4217"),
        ("means.budget", "25,005", "an amount in EUR, as 40.00"),
        ("seat.height", "\x1b[31m465", "50 to 1000 mm, as 465"),
        ("seat.height", "9" * 500, "at most 400 characters"),
    ],
)
def test_each_answer_is_checked_as_it_is_given(file: Path, before: str, typed: str, said: str) -> None:
    lines: list[str] = []
    for key, value in ANSWERS.items():
        lines += [typed, value] if key == before else [value]
    result = ask(file, *lines)
    assert result.exit_code == 0
    assert "\x1b" not in result.output
    assert said in told(result)
    assert load_case(file).places[0].desk.height == 755


@pytest.mark.parametrize(
    ("key", "typed", "kept", "said"),
    [
        ("person.stature", "5'4", 1625.6, "Taken as 1626 mm (64 in)."),
        ("person.stature", "1,63", 1630, "Taken as 1630 mm (64.2 in)."),
        ("person.stature", "1,63 m", 1630, "Taken as 1630 mm (64.2 in)."),
        ("person.stature", "163", 1630, "Taken as 1630 mm (64.2 in)."),
        ("seat.height", "46,5", 465, "Taken as 465 mm (18.3 in)."),
    ],
)
def test_answers_are_taken_as_people_write_them(
    file: Path, key: str, typed: str, kept: float, said: str
) -> None:
    result = ask(file, *{**ANSWERS, key: typed}.values())
    assert said in result.stdout
    case = load_case(file)
    seat = case.places[0].seat
    assert kept == (case.person.stature if key == "person.stature" else seat and seat.height)


def test_a_bare_thickness_with_a_fraction_is_in_centimetres() -> None:
    (question,) = [one for one in questions(load_catalog()) if one.key == "owns.book_thickness"]
    for typed, kept in (("3,5 4,2", "35, 42"), ("3 cm", "30"), ("5 x 3 cm", "30, 30, 30, 30, 30")):
        assert read_answer(question, typed, {}, EVERY) == kept


def test_yes_takes_what_was_asked_back_and_no_does_not(file: Path) -> None:
    lines: list[str] = []
    for key, value in ANSWERS.items():
        lines += {"seat.height": ["4,65 m", "yes"], "desk.height": ["29", "no", value]}.get(key, [value])
    assert ask(file, *lines).exit_code == 0
    place = load_case(file).places[0]
    assert place.seat is not None
    assert (place.seat.height, place.desk.height) == (465, 755)


def test_what_is_unlikely_is_taken_when_typed_again(file: Path) -> None:
    lines: list[str] = []
    for key, value in ANSWERS.items():
        lines += ["280", "280"] if key == "seat.height" else [value]
    result = ask(file, *lines)
    assert "280 mm is unlikely." in told(result)
    seat = load_case(file).places[0].seat
    assert seat is not None
    assert seat.height == 280


def test_back_keeps_what_was_answered(file: Path) -> None:
    lines = list(ANSWERS.values())
    result = ask(file, *lines[:4], "back", "", "back", "back", "170", *lines[4:])
    assert result.exit_code == 0
    assert told(result).count("Enter keeps it.") == 3
    case = load_case(file)
    assert case.places[0].seat is not None
    assert (case.person.stature, case.places[0].seat.height) == (1700, 465)


def test_an_answer_that_no_longer_fits_is_asked_again(file: Path) -> None:
    lines = list(ANSWERS.values())
    spell = list(ANSWERS).index("task.spell")
    back = ["back"] * (spell + 1)
    result = ask(file, *lines[: spell + 1], *back, "1", "60", *lines[spell + 1 :])
    assert result.exit_code == 0, result.output
    assert "Asked again, since it no longer fits: How long do you go on" in told(result)
    assert load_case(file).tasks[0].spell == 60


def test_a_question_mark_tells_more(file: Path) -> None:
    lines = list(ANSWERS.values())
    result = ask(file, *lines[:3], "?", *lines[3:])
    assert result.exit_code == 0
    assert "Usual is 300 to 900 mm; 50 to 1000 mm can be taken, as 465, 46.5 cm" in told(result)


def test_a_warning_sign_is_spoken_of_at_once(file: Path) -> None:
    lines = {**ANSWERS, "person.warning_signs": "13, 8, 1"}
    result = ask(file, *lines.values())
    said = [
        result.stdout.index(one)
        for one in (
            "! Get emergency care now, before any of this: You feel numb between the legs",
            "! Get medical advice today, before any of this: You have back pain and a fever.",
            "! See a licensed clinician before buying or making anything: ",
        )
    ]
    assert said == sorted(said)
    assert set(load_case(file).person.warning_signs) == {CATALOG.signs[n].id for n in (12, 7, 0)}


def test_money_without_a_sample_table_is_said(file: Path) -> None:
    result = ask(file, *{**ANSWERS, "means.currency": "KES"}.values())
    assert "No sample prices in KES come with deskmend." in result.stdout
    assert load_case(file).means.budget == 2500


def test_a_file_that_is_there_is_refused_before_anything_is_asked(file: Path) -> None:
    file.write_text("mine", encoding="utf-8")
    result = ask(file, *ANSWERS.values())
    assert result.exit_code == 2
    assert "is there already" in result.stderr
    assert result.stdout == ""
    assert file.read_text(encoding="utf-8") == "mine"


def test_a_folder_that_is_missing_is_told_before_anything_is_asked(tmp_path: Path) -> None:
    result = ask(tmp_path / "nowhere" / "mine.yaml", *ANSWERS.values())
    assert result.exit_code == 2
    assert "a file in a folder that exists" in result.stderr
    assert result.stdout == ""


def test_one_document_and_nothing_else_with_json(file: Path) -> None:
    result = ask(file, *ANSWERS.values(), options=("--json",))
    assert json.loads(result.stdout) == {"format": "deskmend-written/1", "file": str(file)}
    assert "Question 1 of 8" in result.stderr


def test_every_fault_of_kept_answers_is_told(file: Path) -> None:
    kept = file.with_name("mine.yaml.answers")
    kept.write_text(
        "format: deskmend-answers/1\nanswers:\n  task.hours: 99\n  person.statur: 1640\n  seat.height: [1]\n",
        encoding="utf-8",
    )
    result = ask(file, "")
    assert result.exit_code == 2
    lines = result.stderr.splitlines()
    assert [line.split(":")[1] for line in lines] == ["3", "4", "5"]
    assert "did you mean person.stature?" in lines[1]
    assert not file.exists()


def test_an_answer_may_be_400_characters_long() -> None:
    stature = next(one for one in EVERY if one.key == "person.stature")
    assert read_answer(stature, "1580".rjust(400), {}, EVERY) == "1580"
    with pytest.raises(Unreadable, match="at most 400 characters"):
        read_answer(stature, "1580".rjust(401), {}, EVERY)


@examples(60)
@given(
    st.sampled_from(EVERY),
    st.text(max_size=60) | st.from_regex(r"[0-9]{1,4}( ?(mm|cm|in|a4|card))?", fullmatch=True),
)
def test_any_text_is_taken_or_refused_in_words(one: Question, text: str) -> None:
    answers = {"means.currency": "EUR", "task.hours": "5", "task.main": "laptop"}
    try:
        kept = read_answer(one, text, answers, EVERY)
    except Unreadable:
        return
    assert read_answer(one, kept, answers, EVERY, sure=True) == kept


@examples(40)
@given(st.data())
def test_whatever_is_left_out_the_case_holds(data: st.DataObject) -> None:
    answers: dict[str, str | None] = {}
    given = {
        "task.main": ("laptop", "monitor", "paper"),
        "task.reference": ("none", "laptop", "monitor", "paper"),
        "place.feet_on": ("floor", "foot_bar", "foot_ring", "nothing", "120"),
        "inputs": ("1", "2", "3", "4"),
        "monitor.top": ("450",),
        "monitor.height": ("300",),
        "seat.foot_ring": ("200",),
    }
    while (question := to_ask(EVERY, answers)) is not None:
        texts = given.get(question.key) or (ANSWERS[question.key],)
        texts = tuple(text for text in texts if text != answers.get("task.main"))
        text = data.draw(st.sampled_from(texts))
        leave = not text or (not question.needed and data.draw(st.booleans()))
        answers[question.key] = None if leave else read_answer(question, text, answers, EVERY)
    case, faults = read_case(plain_case(answers, EVERY), "answers")
    assert faults == []
    assert case is not None
    text = interview_case(answers, EVERY)
    assert text.count("\n") > 20


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo terminals there")
def test_questions_are_wrapped_at_the_width_of_the_terminal(file: Path) -> None:
    import pty

    ours, theirs = pty.openpty()
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "TERM": "dumb", "COLUMNS": "52"}
    child = subprocess.Popen(
        [sys.executable, "-m", "deskmend", "new", str(file)],
        stdin=theirs,
        stdout=theirs,
        stderr=subprocess.PIPE,
        env=environment,
        start_new_session=True,
    )
    try:
        lines = read_until(ours, "> ").splitlines()
    finally:
        child.kill()
        child.communicate()
        os.close(ours)
        os.close(theirs)
    assert 45 < max(map(len, lines)) <= 52


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo terminals there")
def test_control_c_at_a_terminal_keeps_the_answers(file: Path) -> None:
    import pty

    ours, theirs = pty.openpty()
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "TERM": "dumb"}
    child = subprocess.Popen(
        [sys.executable, "-m", "deskmend", "new", str(file)],
        stdin=theirs,
        stdout=theirs,
        stderr=subprocess.PIPE,
        env=environment,
        start_new_session=True,
    )
    try:
        read_until(ours, "> ")
        os.write(ours, b"5\n")
        read_until(ours, "most of the time?", "> ")
        os.kill(child.pid, signal.SIGINT)
        _, told = child.communicate(timeout=90)
    finally:
        child.kill()
        child.wait()
        os.close(ours)
        os.close(theirs)
    assert child.returncode == 130
    assert b"Stopped. Your answers are kept" in told
    assert b"Traceback" not in told
    assert not file.exists()
    assert 'task.hours: "5"' in file.with_name("mine.yaml.answers").read_text(encoding="utf-8")


def read_until(terminal: int, *wanted: str) -> str:
    """Read until some texts have come one after the other; what is read at once may hold several."""
    seen, end = "", time.monotonic() + 90
    while not re.search(".*".join(map(re.escape, wanted)), seen, re.DOTALL):
        assert time.monotonic() < end, seen
        if select.select([terminal], [], [], 1.0)[0]:
            seen += os.read(terminal, 4096).decode("utf-8", "replace")
    return seen


def test_a_height_that_is_only_known_is_told_as_such(file: Path) -> None:
    lines = {**ANSWERS, "person.stature_from": "told", "person.cannot_stand": "no"}
    assert ask(file, *lines.values()).exit_code == 0
    person = load_case(file).person
    # civilians add some 9 mm when they tell their height (published)
    assert person.likely_stature == pytest.approx(64 * 25.4 - 9)
    assert person.cannot_stand is True


def test_no_question_points_at_what_another_one_asked() -> None:
    """On the page of answers each stands alone, in another order than when it is asked."""
    assert [one.key for one in questions(load_catalog()) if re.search(r"\bon it\b", one.ask)] == []
