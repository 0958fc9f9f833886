"""A case is read whole or refused with every fault: place, text read, what is allowed, nearest spelling."""

import pickle
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.planning.cases import made, plain
from tests.stages import each, examples

from deskmend.errors import InputFaults
from deskmend.intake.case import Case, Owned
from deskmend.intake.case_file import load_case, read_case
from deskmend.intake.reading.fields import FieldKind, ranges
from deskmend.intake.reading.records import GivenMeasure, Record, meanings

DATA = Path(__file__).parent / "data"
GOOD = (DATA / "pantry_ledger.yaml").read_text(encoding="utf-8")


@pytest.fixture
def faults(tmp_path: Path) -> Callable[..., list[str]]:
    def read(text: str, *changes: tuple[str, str]) -> list[str]:
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        path = tmp_path / "case.yaml"
        path.write_text(text, encoding="utf-8", newline="")
        try:
            load_case(path)
        except InputFaults as error:
            return [line.removeprefix(f"{tmp_path}/") for line in str(error).splitlines()]
        return []

    return read


def test_the_example_is_read_as_written() -> None:
    case = load_case(DATA / "pantry_ledger.yaml")
    assert case.source.endswith("pantry_ledger.yaml")
    assert case.person.stature == 1580
    assert case.person.body.popliteal_height == 385
    assert case.person.body.knee_height is None
    assert case.person.discomfort.neck == 6
    assert case.person.discomfort.eyes is None
    pantry, sewing = case.places
    assert pantry.seat is not None
    assert pantry.seat.slope == "back"
    assert pantry.other_seats[0].height == pytest.approx(469.9)
    assert pantry.other_seats[0].height_range == (430, 560)
    assert pantry.desk.foot_bar == 140
    assert pantry.feet_on == "foot_bar"
    assert pantry.posture == "unknown"
    assert sewing.seat is None
    assert sewing.desk.height == 980
    assert [task.writing for task in case.tasks] == [True, False]
    assert case.owns["hardback_book"] == Owned(3, (38.0, 42.0, 25.0))
    assert case.owns["bath_towel"] == Owned(1)
    assert case.means.budget == 4000
    assert case.means.saving_per_month == 1500
    assert case.means.tools == ("scissors",)
    assert case.means.may_alter is False
    assert case.room.landlord_leave is None


def test_a_case_is_frozen_equal_by_content_and_survives_pickling(tmp_path: Path) -> None:
    case = load_case(DATA / "pantry_ledger.yaml")
    copy = tmp_path / "copy.yaml"
    copy.write_text(GOOD, encoding="utf-8")
    assert load_case(copy) == case == pickle.loads(pickle.dumps(case))
    with pytest.raises(ValueError, match="frozen"):
        case.person.stature = 1  # type: ignore[misc]


@each(
    ("old", "new", "expected"),
    [
        (
            "stature: 1580",
            "stature: 158",
            'person.stature: read "158"; allowed 1000 to 2300 mm; did you mean 1580?',
        ),
        ("stature: 1580", "stature: 62", 'read "62"; allowed 1000 to 2300 mm; did you mean "62 in"?'),
        ("stature: 1580", "stature: 1.58", "did you mean 1580?"),
        ("stature: 1580", "stature: -1580", "allowed 1000 to 2300 mm"),
        ("stature: 1580", "stature: nan", 'read "nan"; allowed 1000 to 2300 mm'),
        ("stature: 1580", "stature: inf", 'read "inf"; allowed 1000 to 2300 mm'),
        ("stature: 1580", "stature: " + "9" * 5000, "allowed 1000 to 2300 mm"),
        ("stature: 1580", "stature: 1e3", "allowed 1000 to 2300 mm"),
        ("stature: 1580", "stature: [1580]", "is a list"),
        ("  stature: 1580\n", "", "person.stature: missing; allowed 1000 to 2300 mm"),
        ("stature: 1580", "stature:", "person.stature: missing; allowed 1000 to 2300 mm"),
        ("stature: 1580", "stature: unknown", 'read "unknown"; allowed 1000 to 2300 mm'),
        ("sex: female", "sexx: female", 'person: unknown key; read "sexx"'),
        ("sex: female", "sexx: female", "did you mean sex?"),
        ("sex: female", "sex: Female", "did you mean female?"),
        ("writing_hand: left", "writing_hand: lefft", "did you mean left?"),
        ("neck: 6", "neck: 11", "allowed whole numbers 0 to 10"),
        ("neck: 6", "nek: 6", "did you mean neck?"),
        ("height: 465", "height: 46.5", "places.pantry.seat.height"),
        ("height: 465", "height: 46.5", "did you mean 465?"),
        ("slope: back,", "slope: 1:30,", "allowed flat, back, forward, unknown, or -30 to 30 degrees"),
        ("slope: back,", "slope: bakc,", "did you mean back?"),
        ("hours: 4,", "hours: 0,", "allowed 0.05 to 24 h"),
        ("hours: 4,", "hours: 1:30,", "tasks.ledger.hours"),
        ("writing: true", "writing: on", 'read "on"; allowed yes or no'),
        ("underside: 715", "underside: 800", "allowed less than height, 755 mm"),
        ("foot_bar: 140", "foot_bar: 720", "allowed less than underside, 715 mm"),
        (", foot_bar: 140", "", "allowed foot_bar only with desk.foot_bar"),
        (
            "width: 1200,",
            "width: 1200, legs: lap,",
            'is a lap; read "715"; allowed no underside with legs: lap',
        ),
        (
            "width: 1200,",
            "width: 1200, legs: lap,",
            'is a lap; read "140"; allowed no foot_bar with legs: lap',
        ),
        ("height_range: [430, 560]", "height_range: [560, 430]", "put the lower one first"),
        ("height_range: [430, 560]", "height_range: [480, 560]", "within height_range, 480 to 560 mm"),
        ("height_range: [430, 560]", "height_range: 430-560", "a list of lowest and highest"),
        ("place: pantry,", "place: pantri,", "did you mean pantry?"),
        ("id: sewing_room", "id: Pantry", "letter case aside"),
        ("id: letters", "id: PANTRY", "letter case aside"),
        ("id: ledger", "id: ../ledger", "a letter or digit, then"),
        ("id: ledger", 'id: "a b"', "a letter or digit, then"),
        ("id: ledger", "id: " + "a" * 65, "a letter or digit, then"),
        ("id: ledger", "id: ünal", "a letter or digit, then"),
        ("    posture: stand\n", "", "places.sewing_room.seat: missing; allowed a seat, or posture: stand"),
        ("main: laptop, reference", "main: monitor, reference", "monitor only with devices.monitor"),
        ("middle: laptop", "middle: monitor", "the task's main or reference"),
        ("{keys: 0.5,", "{keys: 0.6,", "adds up to 1.1"),
        ("{keys: 0.5,", "{keys: 50,", "allowed 0 to 1"),
        ("hours: 1.5", "hours: 20.5", "adds up to 24.5 h a day"),
        ("spell: 90", "spell: 300", "at most the task's 240 min a day"),
        ("screen_height: 190", "screen_height: 240", "at most screen_top, 235 mm"),
        ("sitting_elbow_height: 222", "sitting_elbow_height: 22", "allowed 100 to 400 mm; did you mean 220?"),
        (
            "sitting_elbow_height: 222",
            "sitting_elbow_height: 222, standing_eye_height: 1580",
            'standing_eye_height: read "1580"; allowed less than stature, 1580 mm',
        ),
        ("currency: EUR", "currency: EUX", "means.currency"),
        ("  currency: EUR\n", "", "means.currency: missing"),
        ('budget: "40.00"', 'budget: "40,000"', "did you mean 40000?"),
        ('budget: "40.00"', 'budget: "-40.00"', "an amount here is not negative"),
        ('budget: "40.00"', 'budget: "40.001"', "EUR has at most 2 decimals"),
        ("currency: EUR", "currency: JPY", "JPY has no decimals"),
        ("minutes: 180", "minutes: 12.5", "allowed whole numbers 0 to 100000"),
        ("skill: 2", "skill: 4", "allowed whole numbers 1 to 3"),
        ("bath_towel: 1", "bath_towel: 1.5", "a count of whole numbers"),
        ("[38, 42, 25]", "[38, x]", 'one of them is "x"'),
        ("bath_towel: 1", "bath/towel: 1", 'read "bath/towel"'),
        ("must: []", 'must: ["a=b=c"]', "FIX, PLACE.FIX or TASK.FIX"),
        ("must: []", "must: [pantry.seat_blanket]", "not in must as well"),
        ("format: deskmend-case/1", "format: deskmend-case/2", "did you mean deskmend-case/1?"),
        ("format: deskmend-case/1\n", "", "format: missing; allowed deskmend-case/1"),
        ("title: Bookkeeping at a pantry table", 'title: "\\e[31m"', "title: holds a control character"),
        ("title: Bookkeeping at a pantry table", 'title: "\\u202e"', "title: holds a control character"),
        ("title: Bookkeeping", "title: " + "x" * 200, "allowed text of at most 200 characters"),
        ("title: Bookkeeping", "titel: Bookkeeping", "did you mean title?"),
        ("keyboard: built_in", "keyboard: built-in", "did you mean built_in?"),
        (
            "  laptop: {screen_top: 235, screen_height: 190, keys: 22}\n",
            "",
            "laptop only with devices.laptop",
        ),
        ("tasks:\n", "tasks: none\nold:\n", 'tasks: read "none"; allowed a list'),
    ],
)
def test_one_thing_wrong(faults: Callable[..., list[str]], old: str, new: str, expected: str) -> None:
    found = faults(GOOD, (old, new))
    assert any(expected in line for line in found), found
    assert all(re.match(r"case\.yaml:\d+: ", line) for line in found)
    assert all(line.isprintable() for line in found)


def test_the_line_is_that_of_the_value(faults: Callable[..., list[str]]) -> None:
    line = GOOD[: GOOD.index("stature:")].count("\n") + 1
    assert faults(GOOD, ("stature: 1580", "stature: 158"))[0].startswith(f"case.yaml:{line}: ")


def test_a_wrong_value_names_itself_alone(faults: Callable[..., list[str]]) -> None:
    assert len(faults(GOOD, ("stature: 1580", "stature: 158"))) == 1
    assert len(faults(GOOD, ("hours: 4,", "hours: x,"))) == 1
    assert len(faults(GOOD, ("currency: EUR", "currency: EUX"))) == 1


def test_all_faults_come_at_once(faults: Callable[..., list[str]]) -> None:
    found = faults(
        GOOD,
        ("stature: 1580", "stature: 158"),
        ("underside: 715", "underside: 800"),
        ("place: pantry,", "place: pantri,"),
        ("title: Book", "title: one\ntitle: Book"),
        ("skill: 2", "skil: 2"),
    )
    for words in ("did you mean 1580", "less than height", "mean pantry", "written twice", "mean skill"):
        assert any(words in line for line in found), words
    assert len(found) == 5


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_byte_order_mark(faults: Callable[..., list[str]], end: str, mark: str) -> None:
    assert faults(mark + GOOD.replace("\n", end)) == []


def test_words_left_unknown(faults: Callable[..., list[str]]) -> None:
    assert faults(GOOD, ("shoes: 15", "shoes: unknown"), ("depth: 430", "depth:")) == []


def test_markup_in_text_is_kept_for_the_page_to_escape(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_text(GOOD.replace("Bookkeeping at", "<script>alert(1)</script>"), encoding="utf-8")
    assert load_case(path).title.startswith("<script>")


@pytest.mark.parametrize("text", ["[]", "x", "- a", "{}", "a: {b: {c: {}}}", "person: 3", "places: {}"])
def test_another_shape_altogether(faults: Callable[..., list[str]], text: str) -> None:
    assert faults(text)


def test_a_check_made_later_names_file_and_line() -> None:
    case = load_case(DATA / "pantry_ledger.yaml")
    fault = case.fault(("tasks", 1, "place"), "sewing_room", "a lit place")
    line = GOOD[: GOOD.index("id: letters")].count("\n") + 1
    assert str(fault).endswith(
        f'pantry_ledger.yaml:{line}: tasks.letters.place: read "sewing_room"; allowed a lit place'
    )


def test_a_row_of_a_table_is_read_like_a_file() -> None:
    plain: dict[str, Any] = {
        "format": "deskmend-case/1",
        "person": {"stature": "158"},
        "places": [{"id": "desk", "seat": {"height": "450"}, "desk": {"height": "740"}}],
        "tasks": [{"id": "work", "place": "desk", "hours": "7", "main": "paper"}],
    }
    case, found = read_case(plain, "people.csv", 7)
    assert case is None
    assert str(found[0]).startswith("people.csv:7: person.stature: ")
    plain["person"]["stature"] = "1580"
    case, found = read_case(plain, "people.csv", 7)
    assert found == []
    assert case is not None
    assert case.means.currency is None


def records() -> list[type[Record]]:
    found: list[type[Record]] = []
    waiting: list[type[Record]] = [Case]
    while waiting:
        record = waiting.pop()
        if record in found:
            continue
        found.append(record)
        text = " ".join(str(field.annotation) for field in record.model_fields.values())
        waiting += [
            one
            for one in Record.__subclasses__() + every_subclass()
            if re.search(rf"\b{one.__name__}\b", text)
        ]
    return found


def every_subclass() -> list[type[Record]]:
    return [inner for outer in Record.__subclasses__() for inner in outer.__subclasses__()]


@each("record", records())
def test_every_key_says_what_it_is_and_its_unit(record: type[Record]) -> None:
    assert record.model_config["extra"] == "forbid"
    assert record.model_config["frozen"]
    assert record.__doc__
    for name in record.model_fields:
        assert re.search(
            r"\[(mm|deg|h|min|kg|lux|years|months|minor units|1/min|-)\]\.$", meanings(record).get(name, "")
        ), name


def test_parts_of_an_arm_that_do_not_add_up_are_told(faults: Callable[..., list[str]]) -> None:
    before = "popliteal_height: 385"
    assert before in GOOD

    def told(shoulder: int) -> list[str]:
        parts = f"{before}, shoulder_elbow_length: 330, sitting_shoulder_height: {shoulder}"
        return faults(GOOD, (before, parts))

    elbow = load_case(DATA / "pantry_ledger.yaml").person.body.sitting_elbow_height
    assert elbow == 222
    assert told(552) == told(640) == []
    (fault,) = told(660)
    assert "sitting_shoulder_height" in fault
    assert "about 552 mm" in fault


def test_every_range_is_sound_and_used() -> None:
    package = Path(__file__).parents[2] / "src/deskmend"
    used = [path for floor in ("intake", "picture") for path in (package / floor).rglob("*.py")]
    code = "\n".join(path.read_text(encoding="utf-8") for path in used)
    for key, limits in ranges().items():
        assert limits.low < limits.high, key
        assert f'"{key}"' in code, key


def test_the_ranges_hold_the_people_desks_are_made_for() -> None:
    # EN 527-1:2011: stature 1493 to 1913 mm (confirmed in a second source).
    assert 1493 in ranges()["person.stature"]
    assert 1913 in ranges()["person.stature"]


def test_kinds_of_fields_say_what_is_allowed() -> None:
    for record in records():
        for field in record.model_fields.values():
            assert all(kind.allowed for kind in field.metadata if isinstance(kind, FieldKind))


PIECES = "format deskmend-case/1 person stature 158 places tasks id -1 nan {} [] { } [ ] , &a *a !!x | # ---"
WORDS = st.sampled_from([*PIECES.split(), ": ", "\n", "\n  ", "- ", '"', "'", "\t", "é"])


@examples(150)
@given(
    st.one_of(
        st.binary(max_size=200), st.lists(WORDS, max_size=60).map(lambda parts: "".join(parts).encode())
    )
)
def test_whatever_stands_in_a_file_only_faults_come_of_it(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.yaml"
    path.write_bytes(content)
    with pytest.raises(InputFaults) as caught:
        load_case(path)
    assert all(line.isprintable() for line in str(caught.value).splitlines())


@examples(100)
@given(st.integers(0, len(GOOD) - 1), st.integers(0, 40), st.text(max_size=8))
def test_a_good_file_spoiled_anywhere(
    tmp_path_factory: pytest.TempPathFactory, start: int, length: int, put: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "spoiled.yaml"
    path.write_bytes((GOOD[:start] + put + GOOD[start + length :]).encode("utf-8", "surrogatepass"))
    message = ""
    try:
        load_case(path)
    except InputFaults as error:
        message = str(error)
    assert all(line.isprintable() for line in message.splitlines())


@pytest.mark.parametrize("put", ["\u0378", "\ue000", "\u202e", "\u200b", "\U000e0001", "\ud800"])
@pytest.mark.parametrize("into", ["id: pantry", "hardback_book", "[38", "1580", "left"])
def test_no_message_repeats_what_cannot_be_printed(tmp_path: Path, into: str, put: str) -> None:
    """Names and numbers of a file come back as what is allowed, what is meant and what is noted."""
    path = tmp_path / "case.yaml"
    path.write_bytes(GOOD.replace(into, into + put, 1).encode("utf-8", "surrogatepass"))
    with pytest.raises(InputFaults) as caught:
        load_case(path)
    assert [line for line in str(caught.value).splitlines() if not line.isprintable()] == []


def test_a_table_in_place_of_a_case_is_told_where_it_belongs(tmp_path: Path) -> None:
    table = tmp_path / "people.csv"
    table.write_text("id,person.stature\nana,1600\n", encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        load_case(table)
    assert [str(one).removeprefix(str(table)) for one in caught.value.faults] == [
        ": is named as a table; allowed a case file, as mine.yaml;"
        " applicants go to deskmend allocate, prices to --prices"
    ]
    with pytest.raises(InputFaults) as caught:
        load_case(tmp_path / "none.csv")
    assert "no such file" in str(caught.value.faults[0])


def seat_written(value: Any) -> list[str]:
    """Faults of a case whose seat is as high as written."""
    return [str(fault) for fault in read_case(plain(places__0__seat__height=value), "mine.yaml")[1]]


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ({"value": "45", "sd": "8"}, ["seat.height.value", "50 to 1000 mm", "did you mean 450?"]),
        ({"sd": "8"}, ["seat.height.value: missing", "50 to 1000 mm"]),
        ({"value": "452", "sds": "8"}, ["seat.height: unknown key", "value, sd, from", "did you mean sd?"]),
        ({"value": "452", "sd": "-1"}, ["seat.height.sd", "0 to 300 mm"]),
        ({"value": "452", "from": "picture"}, ["seat.height.from", "did you mean pictured?"]),
    ],
)
def test_a_measure_that_tells_how_sure_it_is_has_faults_like_any_other(value: Any, told: list[str]) -> None:
    (fault,) = seat_written(value)
    assert all(part in fault for part in told), fault


def test_every_fault_of_such_a_measure_is_told_and_rules_see_its_value() -> None:
    assert len(seat_written({"value": "45", "sd": "x", "from": "y"})) == 3
    case, faults = read_case(plain(places__0__desk__underside={"value": "660", "sd": "5"}), "mine.yaml")
    assert case is None
    assert "less than height, 650 mm" in str(faults[0])


def test_a_measure_that_tells_how_sure_it_is_is_a_number_like_any_other() -> None:
    case = made(places__0__seat__height={"value": "45.2 cm", "sd": "8", "from": "pictured"})
    assert case.places[0].seat is not None
    height = case.places[0].seat.height
    assert height == 452.0
    assert isinstance(height, GivenMeasure)
    assert (height.sd, height.origin) == (8.0, "pictured")
    again = pickle.loads(pickle.dumps(case)).places[0].seat.height
    assert (again, again.sd, again.origin) == (452.0, 8.0, "pictured")
    assert case.model_dump(mode="json")["places"][0]["seat"]["height"] == 452.0
