"""``deskmend measure``: text, JSON, drawings and cases, as people use it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner, Result
from PIL import Image

from deskmend.api import measure as deskmend_measure
from deskmend.cli import deskmend
from deskmend.cli.output import Shared
from deskmend.errors import InputFaults
from deskmend.intake.case_file import load_case
from deskmend.intake.catalog import load_catalog
from deskmend.intake.reading.records import GivenMeasure
from deskmend.intake.reading.yaml_tree import FaultList, load_tree, parse_tree, to_plain, tree_text
from deskmend.picture.measuring import drawing, measure_pictures, merge
from deskmend.planning.ready_case import NoPlan

from .drawn_scenes import drawn
from .written import SMALL, marks_of, write_both, write_marks, write_picture

Files = tuple[Path, Path, Any]

CASE = """format: deskmend-case/1
title: "Somebody: invented"
person: {stature: 1850}
places:
  - id: home
    seat: {height: {value: 520, sd: 40, from: estimated}, depth: 430}
    desk: {height: {value: 700, sd: 3, from: taped}}
tasks:
  - {id: work, place: home, hours: 4, main: laptop}
devices:
  laptop: {screen_top: {value: 300, from: told}, screen_height: 190, keys: 22}
owns: {hardback_book: [38, 42, 25, 30, 31]}
"""


CATALOG = load_catalog()
FEW = replace(CATALOG, fixes=tuple(fix for fix in CATALOG.fixes if fix.id in ("screen_books", "feet_book")))


@pytest.fixture(autouse=True)
def few_fixes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plan with a few fixes, so that a plan takes no time."""
    monkeypatch.setattr(Shared, "catalog", lambda self: FEW)


@pytest.fixture
def files(tmp_path: Path) -> Files:
    (tmp_path / "case.yaml").write_text(CASE, encoding="utf-8")
    return write_both(tmp_path)


def run(files: Files, *options: str) -> Result:
    picture, marks, _ = files
    return CliRunner().invoke(deskmend, ["measure", str(picture), "--marks", str(marks), *options])


def test_text_says_every_measure_and_asks_to_look(files: Files) -> None:
    told = run(files)
    assert told.exit_code == 0, told.output
    for part in ("height of the desk", "95 % between", "Measure these with a tape", "look at the drawing"):
        assert part in told.stdout


def test_the_document_holds_what_was_promised(files: Files) -> None:
    told = run(files, "--json")
    document = json.loads(told.stdout)
    assert document["format"] == "deskmend-measures/1"
    assert document["faults"] == []
    for one in document["measures"]:
        assert set(one) == {"name", "value", "sd", "low", "high", "unit", "from"}
        assert one["low"] < one["value"] < one["high"]
        assert abs((one["high"] - one["low"]) / (2 * 1.96 * one["sd"]) - 1) < 0.01
    assert run(files, "--json").stdout == told.stdout


def test_a_case_keeps_what_was_taped_and_takes_what_is_surer(files: Files, tmp_path: Path) -> None:
    case, new = tmp_path / "case.yaml", tmp_path / "new.yaml"
    told = run(files, "--case", str(case), "--out", str(new), "--json")
    assert told.exit_code == 0, told.output
    assert case.read_text(encoding="utf-8") == CASE
    made = load_case(new)
    (place,) = made.places
    assert place.seat is not None
    assert isinstance(place.seat.height, GivenMeasure)
    assert (place.seat.height.origin, place.seat.height != 520) == ("pictured", True)
    assert isinstance(place.desk.height, GivenMeasure)
    assert (place.desk.height.origin, place.desk.height) == ("taped", 700.0)
    assert place.seat.depth == 430
    assert made.tasks[0].viewing_distance is not None
    assert "not confirmed" in made.notes
    assert "places.0.desk.height" in made.notes
    assert {one["where"] for one in json.loads(told.stdout)["kept"]} >= {"places.0.desk.height"}


def test_what_to_tape_follows_from_the_plan_of_the_case(files: Files, tmp_path: Path) -> None:
    case = tmp_path / "low.yaml"
    low = CASE.replace("screen_top: {value: 300, from: told}", "screen_top: 200")
    apart = "keys: 22}\n  keyboard: separate\n  mouse: separate"
    money = "means: {currency: EUR, budget: '60.00'}\n"
    case.write_text(low.replace("keys: 22}", apart) + money, encoding="utf-8")
    document = json.loads(run(files, "--case", str(case), "--json").stdout)
    rows = document["tape_for_plan"]
    moves = [one["moves"] for one in rows]
    assert rows
    assert document["no_plan"] is None
    assert moves == sorted(moves, reverse=True)
    assert moves[-1] > 0
    # What was taped, or told without origin, is not asked for again.
    assert not {"places.*.desk.height", "places.*.seat.depth"} & {one["measure"] for one in rows}
    told = run(files, "--case", str(case)).stdout
    assert "the plan of the case hangs on them" in told
    assert "could change in the plan" in run(files).stdout


def test_a_case_without_a_plan_is_told(files: Files, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise NoPlan("money", "more money")

    monkeypatch.setattr("deskmend.planning.observed.prepare", none)
    told = run(files, "--case", str(tmp_path / "case.yaml")).stdout
    assert "since the case has no plan (money)." in " ".join(told.split())
    assert (
        json.loads(run(files, "--case", str(tmp_path / "case.yaml"), "--json").stdout)["no_plan"] == "money"
    )


def test_posture_is_shown_in_text_and_document(files: Files, tmp_path: Path) -> None:
    alone = run(files)
    assert "RULA of the posture seen" in alone.stdout
    assert "so assumed: held for 30 minutes" in " ".join(alone.stdout.split())
    case = str(tmp_path / "case.yaml")
    assert "asked for" in run(files, "--case", case).stdout
    posture = json.loads(run(files, "--case", case, "--json").stdout)["posture"]
    assert posture["task"] == "work"
    assert posture["rula"]["low"] <= posture["rula"]["score"] <= posture["rula"]["high"]
    assert {one["from"] for one in posture["rula"]["not_seen"]} == {"case"}
    elbow = next(one for one in posture["angles"] if one["name"] == "elbow_angle")
    assert elbow["low"] < elbow["value"] < elbow["high"]
    assert elbow["expected_low"] < elbow["expected"] < elbow["expected_high"]


def test_a_stature_of_the_case_that_the_picture_contradicts_is_told(files: Files, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(CASE.replace("1850", "1500"), encoding="utf-8")
    told = run(files, "--case", str(case))
    assert told.exit_code == 2
    assert "stature" in told.stderr


def two(folder: Path) -> tuple[list[str], list[str]]:
    """Write two pictures of one scene and their marks."""
    scene = drawn(3, replace(SMALL, views=2))
    corners, points, _ = scene.further[0]
    pictures, marks = [], []
    for name, one in (("one", scene), ("two", replace(scene, corners=corners, points=points))):
        pictures.append(str(write_picture(folder / f"{name}.jpg", SMALL.size)))
        marks.append(str(write_marks(folder / f"{name}.yaml", marks_of(one, f"{name}.jpg"))))
    return pictures, marks


def test_two_pictures_of_one_scene_are_solved_together(tmp_path: Path) -> None:
    pictures, marks = two(tmp_path)

    def told(count: int, *options: str) -> Result:
        given = [part for one in marks[:count] for part in ("--marks", one)]
        return CliRunner().invoke(deskmend, ["measure", *pictures[:count], *given, *options])

    one, both = (json.loads(told(count, "--json").stdout) for count in (1, 2))
    assert both["pictures"] == ["one.jpg", "two.jpg"]
    sds = [[m["sd"] for m in told["measures"] if m["unit"] == "mm"] for told in (one, both)]
    assert sum(sds[1]) < 0.9 * sum(sds[0])
    assert told(2, "--drawn", str(tmp_path / "drawn.png")).exit_code == 0
    with Image.open(tmp_path / "drawn.png") as made:
        assert made.size == (1600, 2400)
    found = deskmend_measure(pictures, marks)
    assert [m.name for m in found.measures] == [m["name"] for m in both["measures"]]
    assert found.posture.rula is not None


def test_pictures_that_are_not_of_one_scene_are_refused(tmp_path: Path) -> None:
    pictures, marks = two(tmp_path)
    content = yaml.safe_load(Path(marks[1]).read_text(encoding="utf-8"))
    first = yaml.safe_load(Path(marks[0]).read_text(encoding="utf-8"))
    write_marks(Path(marks[0]), {**first, "taped": {"desk_height": 720}, "known": {"stature": 1700}})
    wrong = {"person_faces": "left", "taped": {"desk_height": 700}, "known": {"stature": 1800}}
    write_marks(Path(marks[1]), {**content, **wrong, "sheet": {**content["sheet"], "kind": "letter"}})
    with pytest.raises(InputFaults) as caught:
        measure_pictures(list(zip(pictures, marks, strict=True)))
    assert [fault.where for fault in caught.value.faults] == [
        "person_faces", "sheet", "taped.desk_height", "known.stature",
    ]  # fmt: skip
    few = CliRunner().invoke(deskmend, ["measure", *pictures, "--marks", marks[0]])
    assert few.exit_code == 2
    assert "once for each picture" in few.stderr
    with pytest.raises(ValueError, match="2 pictures, 1 marks"):
        deskmend_measure(pictures, marks[0])


def test_a_case_is_never_written_over(files: Files, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    told = run(files, "--case", str(case), "--out", str(case))
    assert told.exit_code == 2
    assert case.read_text(encoding="utf-8") == CASE


def test_doubtful_marks_go_into_no_case(files: Files, tmp_path: Path) -> None:
    picture, _, scene = files
    content = marks_of(scene, "desk.jpg")
    points: dict[str, Any] = content["points"]  # type: ignore[assignment]
    points["elbow"], points["wrist"] = points["wrist"], points["elbow"]
    doubtful = (picture, write_marks(tmp_path / "swapped.yaml", content), scene)
    told = run(doubtful)
    assert told.exit_code == 0
    assert "elbow and wrist seem to be changed over" in told.stdout
    assert json.loads(run(doubtful, "--json").stdout)["faults"][0]["points"] == ["elbow", "wrist"]
    refused = run(doubtful, "--case", str(tmp_path / "case.yaml"), "--out", str(tmp_path / "new.yaml"))
    assert refused.exit_code == 2
    assert not (tmp_path / "new.yaml").exists()


def test_several_places_are_asked_about(files: Files, tmp_path: Path) -> None:
    plain = yaml.safe_load(CASE)
    plain["places"].append({**plain["places"][0], "id": "office"})
    case = tmp_path / "two.yaml"
    case.write_text(json.dumps(plain), encoding="utf-8")
    told = measure_pictures([files[:2]])
    with pytest.raises(InputFaults, match="--place"):
        merge(told, case, None, confirmed=True)
    merged = merge(told, case, "office", confirmed=True)
    assert {where.split(".")[1] for where, _ in merged.taken if "places" in where} == {"1"}
    assert "Marks of desk.jpg: confirmed" in merged.text


def test_marks_are_drawn_on_a_blank_ground(files: Files, tmp_path: Path) -> None:
    told = run(files, "--drawn", str(tmp_path / "drawn.png"))
    assert told.exit_code == 0, told.output
    with Image.open(tmp_path / "drawn.png") as drawn:
        assert (drawn.size, drawn.info, dict(drawn.getexif())) == ((1600, 1200), {}, {})
        assert drawn.getpixel((5, 5)) == (255, 255, 255)


def test_the_picture_is_kept_only_on_request_and_its_head_blurred(files: Files) -> None:
    told = measure_pictures([files[:2]])
    # Something to see about the head: stripes that a blur takes away.
    x, y = (round(one) for one in told.shots[0].marks.marked["tragus"])
    stripes = Image.effect_noise((60, 60), 200).convert("RGB")
    told.shots[0].picture.image.paste(stripes, (x - 90, y - 90))

    def contrast(data: bytes) -> int:
        with Image.open(BytesIO(data)) as made:
            low, high = made.crop((x - 85, y - 85, x - 40, y - 40)).convert("L").getextrema()
            return int(high) - int(low)

    assert contrast(drawing(told, keep=True)) < 0.4 * contrast(drawing(told, keep=True, face=True))


def test_options_that_say_nothing_are_refused(files: Files) -> None:
    for options in (["--keep"], ["--face"], ["--out", "x.yaml"], ["--place", "home"]):
        assert run(files, *options).exit_code == 2


@pytest.mark.parametrize("change", [lambda text: text, lambda text: text.replace("home", '"a: b"')])
def test_a_tree_is_written_as_it_is_read_back(tmp_path: Path, change: Callable[[str], str]) -> None:
    path = tmp_path / "case.yaml"
    more = 'notes: "two\\nlines # and \\u00e9"\nroom: {shared: "no", x: , y: ""}\n'
    path.write_text(change(CASE + more), encoding="utf-8")
    tree = load_tree(path)
    again = parse_tree(tree_text(tree.root), "again", FaultList("again"))
    assert again is not None
    assert to_plain(again.root) == to_plain(tree.root)
