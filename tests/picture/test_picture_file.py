"""Picture files: what is taken from them, and that bad ones are refused with one clear fault."""

from __future__ import annotations

import base64
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image

from deskmend.errors import InputFaults
from deskmend.picture.camera import MOST_BYTES, read_picture

from .written import write_picture

GREY_HEIF = base64.b64decode(
    "AAAAHGZ0eXBoZWljAAAAAG1pZjFoZWljbWlhZgAAAZdtZXRhAAAAAAAAACFoZGxyAAAAAAAAAABwaWN0AAAAAAAAAAAAAAAA"
    "AAAAADRpbG9jAAAAAERAAAIAAQAAAAABuwABAAAAAAAAADoAAgAAAAAB9QABAAAAAAAAAFgAAAA4aWluZgAAAAAAAgAAABVp"
    "bmZlAgAAAAABAABodmMxAAAAABVpbmZlAgAAAQACAABFeGlmAAAAAA5waXRtAAAAAAABAAAA1mlwcnAAAAC3aXBjbwAAAHho"
    "dmNDAQNwAAAAkAAAAAAAPPAA/P34+AAADwNgAAEAGEABDAH//wNwAAADAJAAAAMAAAMAPLoCQGEAAQArQgEBA3AAAAMAkAAA"
    "AwAAAwA8oAoIDxZbqSSmubgIaDAgAAADAyAAAAMAIWIAAQAHRAHBcrBiQAAAABNjb2xybmNseAABAA0ABoAAAAAUaXNwZQAA"
    "AAAAAAFAAAAA8AAAABBwaXhpAAAAAAMICAgAAAAXaXBtYQAAAAAAAAABAAEEgQIDBAAAABppcmVmAAAAAAAAAA5jZHNjAAIA"
    "AQABAAAAmm1kYXQAAAA2KAGvBBIWaDT8eTjr7aVydUm9JG/sE5nR3Apirqfo7gZgxT1QQJMNNMAABvSHAAADAAADAARkAAAA"
    "BkV4aWYAAE1NACoAAAAIAAMBDwACAAAACQAAADIBEgADAAAAAQABAACHaQAEAAAAAQAAADwAAAAAc29tZWJvZHkAAAABpAUA"
    "AwAAAAEAGgAAAAAAAA=="
)
"""A grey picture of 320 by 240 pixels as telephones write them, with focal length and maker."""


def refused(path: Path) -> str:
    with pytest.raises(InputFaults) as caught:
        read_picture(path)
    (fault,) = caught.value.faults
    return str(fault)


def test_size_and_focal_length_are_taken_and_nothing_else(tmp_path: Path) -> None:
    picture = read_picture(write_picture(tmp_path / "a.jpg", (1600, 1200)))
    assert (picture.size, picture.equivalent, picture.cropped) == ((1600, 1200), 26.0, False)
    assert dict(picture.image.getexif()) == {}
    assert picture.image.info == {}


@pytest.mark.parametrize(("turned", "size"), [(1, (1600, 1200)), (6, (1200, 1600)), (8, (1200, 1600))])
def test_a_picture_is_stood_upright_once(tmp_path: Path, turned: int, size: tuple[int, int]) -> None:
    assert read_picture(write_picture(tmp_path / "a.jpg", (1600, 1200), turned=turned)).size == size


@pytest.mark.parametrize("focal", [None, 0, 5, 999])
def test_a_focal_length_that_is_none_is_not_known(tmp_path: Path, focal: float | None) -> None:
    assert read_picture(write_picture(tmp_path / "a.jpg", (1600, 1200), focal)).equivalent is None


def test_an_unusual_shape_may_be_a_part(tmp_path: Path) -> None:
    assert read_picture(write_picture(tmp_path / "a.jpg", (1600, 700))).cropped


def test_a_picture_ending_early(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "a.jpg", (1600, 1200))
    path.write_bytes(path.read_bytes()[:6000])
    assert "is damaged, or ends early" in refused(path)


def test_a_file_that_is_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(b"GIF89a" + bytes(500))
    assert "is no picture that can be read" in refused(path)


def test_a_picture_of_another_kind(tmp_path: Path) -> None:
    path = tmp_path / "a.gif"
    Image.new("P", (500, 500)).save(path)
    assert "allowed a picture as JPEG, PNG or HEIF" in refused(path)


def test_a_picture_as_telephones_write_them(tmp_path: Path) -> None:
    path = tmp_path / "a.heic"
    path.write_bytes(b"\0\0\0\x18ftypheic" + bytes(500))
    told = refused(path)
    assert "save it as JPEG" in told or "damaged" in told or "no picture" in told


def test_a_picture_in_heif_is_read(tmp_path: Path) -> None:
    pytest.importorskip("pi_heif", reason="pi-heif is not installed, which reads what telephones write")
    path = tmp_path / "a.heic"
    path.write_bytes(GREY_HEIF)
    picture = read_picture(path)
    assert (picture.size, picture.equivalent, picture.cropped) == ((320, 240), 26.0, False)
    assert (picture.image.info, dict(picture.image.getexif())) == ({}, {})
    path.write_bytes(GREY_HEIF[:400])
    assert "no picture that can be read" in refused(path)


def test_a_picture_packed_too_tight(tmp_path: Path) -> None:
    """A PNG of 30,000 by 30,000 pixels in a few bytes: refused by its head, before anything is unpacked."""
    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    parts = b"\x89PNG\r\n\x1a\n"
    for name, data in ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(1000))), (b"IEND", b"")):
        parts += struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
    path = tmp_path / "a.png"
    path.write_bytes(parts)
    assert "megapixels" in refused(path)


def test_a_file_of_a_hundred_megabytes_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    with open(path, "wb") as stream:
        stream.truncate(4 * MOST_BYTES)
    assert "at most 25 MB" in refused(path)


def test_a_picture_that_is_missing_or_tiny(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "none.jpg")
    assert "at least 200 pixels" in refused(write_picture(tmp_path / "a.jpg", (1600, 100)))
