"""Pictures on the page: bounded, held in memory, measured, taken into the case or dropped."""

from __future__ import annotations

import re
import struct
import zlib
from html import unescape
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from tests.picture.drawn_scenes import drawn
from tests.picture.written import SMALL, marks_of, write_marks, write_picture

from deskmend.intake.case_file import load_case
from deskmend.local_page.handling import PAGE_SECRET
from deskmend.picture.camera import MOST_BYTES
from deskmend.picture.measured import landmarks
from deskmend.picture.scene import CORNERS
from deskmend.planning.observed import measure_workplace
from deskmend.report.measuring import beside_rows, difference_words, rula_words

from .served import HERE, Served, case_text

REMARK = "# a remark of my own\n"


@pytest.fixture
def page(tmp_path: Path) -> Served:
    folder = tmp_path / "cases"
    folder.mkdir()
    text = REMARK + case_text(places__0__seat__height={"value": "500", "sd": "40", "from": "estimated"})
    (folder / "mine.yaml").write_text(text, encoding="utf-8")
    return Served(folder)


def sent(page: Served, data: bytes) -> Any:
    headers = {"origin": HERE, PAGE_SECRET: page.keys.page, "content-type": "application/octet-stream"}
    return page.client.post("/pictures/mine.yaml", content=data, headers=headers)


def unknown(page: Served, picture: str) -> bool:
    told = {"what": "measure", "case": "mine.yaml", "picture": picture, "marks": {}}
    return bool(page.post("/ask", told).status_code == 400)


def header_of(side: int) -> bytes:
    """A PNG that says how large it is, and holds nothing."""
    start = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    chunk = b"IHDR" + start
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", len(start)) + chunk + struct.pack(">I", zlib.crc32(chunk))


@pytest.mark.parametrize("data", [header_of(30_000), b"", b"<svg onload='alert(1)'/>", header_of(300)])
def test_what_is_no_fit_picture_is_told_and_not_kept(page: Served, data: bytes) -> None:
    began = sent(page, data)
    told = page.client.get(f"/asked/{began.json()['number']}").json()
    assert told["state"] == "faults"
    assert told["answer"]["faults"]


def test_too_many_bytes_are_never_read(page: Served) -> None:
    assert sent(page, b"x" * (MOST_BYTES + 1)).status_code == 413


def test_a_picture_is_measured_taken_over_and_dropped(page: Served, tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    number = sent(page, picture.read_bytes()).json()["number"]
    shown = page.client.get(f"/asked/{number}").json()["answer"]
    assert shown["size"] == list(SMALL.size)
    assert shown["image"].startswith("data:image/jpeg;base64,")
    marks = marks_of(drawn(3, SMALL), "desk.jpg")
    marks["sheet"]["corners"] = [list(corner) for corner in marks["sheet"]["corners"]]  # type: ignore[index]
    told = page.answer("measure", "mine.yaml", picture=number, marks=marks, place="den")
    assert told["state"] == "done"
    assert "height of the desk" in told["answer"]["html"]
    written = write_marks(tmp_path / "marks.yaml", marks)
    posture = measure_workplace([(picture, written)], page.folder / "mine.yaml", "den").posture
    shown = " ".join(unescape(re.sub(r"<[^>]*>", " ", told["answer"]["html"])).split())
    assert "Posture seen Beside it what seat and desk ask for" in shown
    for row in beside_rows(posture):
        assert " ".join(row) in shown
    said = [*rula_words(posture), *(difference_words(one) for one in posture.angles if one.beyond_both)]
    assert said[0].startswith("RULA of the posture seen: ")
    assert [one for one in said if one not in shown] == [], "the page says what the command measure says"
    taken = page.answer("take", "mine.yaml", picture=number, marks=marks, place="den")
    assert "text" not in taken["answer"], "the case is written by the server, not by the page"
    _, version = (
        page.client.get("/").text,
        page.post("/ask", {"what": "strain", "case": "mine.yaml"}).json()["version"],
    )
    change = {"case": "mine.yaml", "number": taken["answer"]["number"], "version": version, "picture": number}
    assert page.post("/take", {**change, "version": "another"}).status_code == 409
    assert page.post("/take", change).status_code == 200
    assert page.post("/take", change).status_code == 409, "what was taken is not taken twice"
    text = (page.folder / "mine.yaml").read_text(encoding="utf-8")
    assert "from: pictured" in text
    assert load_case(page.folder / "mine.yaml").places[0].seat is not None
    # the picture is gone, and nothing but the case is in the folder
    assert (
        page.post(
            "/ask", {"what": "measure", "case": "mine.yaml", "picture": number, "marks": marks}
        ).status_code
        == 400
    )
    assert [one.name for one in page.folder.iterdir()] == ["mine.yaml"]


def test_measures_that_the_case_cannot_hold_are_shown_and_told(page: Served, tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    number = sent(page, picture.read_bytes()).json()["number"]
    marks = marks_of(drawn(3, SMALL), "desk.jpg")
    marks["sheet"]["corners"] = [list(corner) for corner in marks["sheet"]["corners"]]  # type: ignore[index]
    told = page.answer("measure", "mine.yaml", picture=number, marks=marks, place="attic")
    assert told["state"] == "done"
    assert "height of the desk" in told["answer"]["html"]
    assert "--place" in told["answer"]["html"]
    assert "asked for" not in told["answer"]["html"], "nothing is expected of a place that is not there"


def test_marks_that_are_none_are_faults(page: Served, tmp_path: Path) -> None:
    picture = write_picture(tmp_path / "desk.jpg", SMALL.size)
    number = sent(page, picture.read_bytes()).json()["number"]
    for marks in ({}, {"picture": "<script>alert(1)</script>"}, marks_of(drawn(3, SMALL), "x") | {"more": 1}):
        told = page.answer("measure", "mine.yaml", picture=number, marks=marks)
        assert told["state"] == "faults"
    assert (
        page.post(
            "/ask", {"what": "measure", "case": "mine.yaml", "picture": "none", "marks": {}}
        ).status_code
        == 400
    )
    assert page.post("/drop", {"picture": number}).status_code == 200
    assert (
        page.post(
            "/ask", {"what": "measure", "case": "mine.yaml", "picture": number, "marks": {}}
        ).status_code
        == 400
    )


def test_the_small_drawing_shows_where_each_point_is() -> None:
    told = files("deskmend.local_page").joinpath("modules", "picture.js").read_text(encoding="utf-8")
    shown = told[told.index("const WHERE = {") : told.index("};", told.index("const WHERE = {"))]
    named = {one.strip('"') for one in re.findall(r'("[a-z ]+"|[a-z_0-9]+): \[', shown)}
    assert named == {*landmarks(), *CORNERS}
