"""The one folder that the local page reads and writes: its cases, each with a version, and files beside them.

A file is written whole or not at all: under another name first, then renamed. Who changes a case says which
version was read; where somebody has changed it since, nothing is written.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from deskmend.intake.catalog import text_digest

__all__ = ["FILE_NAME", "CaseFile", "CaseFolder", "ChangedMeanwhile", "NotInFolder"]

MOST_FILES = 500
"""Most cases listed."""
MOST_LOOKED_AT = 5000
"""Most files looked at to find them."""
MOST_BYTES = 1_000_000
"""Largest case, as for every case file [bytes]."""
_HEAD = 4096
"""Bytes of a file that are looked at to see whether it is a case."""
_FORMAT = re.compile(rb"deskmend-case/1\b")
_ENDINGS = (".yaml", ".yml")
BOOK_ENDING = ".casebook"
_UNFINISHED = re.compile(r"\..+\.[0-9a-f]{16}\.deskmend-part")
FILE_NAME = re.compile(r"[^\W_][\w .-]{0,99}")
"""Names of new files: letters and digits of any language, no path and nothing hidden."""


class NotInFolder(Exception):
    """A path that is no case of the folder, or leads out of it."""


class ChangedMeanwhile(Exception):
    """The file is not as it was read: somebody else has written it."""


@dataclass(frozen=True)
class CaseFile:
    """One case of the folder: its path within it, with ``/``, and what it is called there."""

    name: str
    path: Path


class CaseFolder:
    """Cases in a folder and in the folders directly in it; nothing outside is ever read or written."""

    def __init__(self, folder: Path) -> None:
        self.path = folder.resolve(strict=True)
        self._writing = threading.Lock()

    def cases(self) -> list[CaseFile]:
        """Every case, by name."""
        found = []
        for name, path in self._yaml_files():
            with open(path, "rb") as stream:
                if _FORMAT.search(stream.read(_HEAD)):
                    found.append(CaseFile(name, path))
            if len(found) == MOST_FILES:
                break
        return sorted(found, key=lambda one: one.name)

    def _yaml_files(self) -> Iterator[tuple[str, Path]]:
        looked = 0
        for below in (self.path, *(one for one in sorted(self.path.iterdir()) if _plain_folder(one))):
            for path in sorted(below.iterdir()):
                looked += 1
                if looked > MOST_LOOKED_AT:
                    return
                plain = path.suffix.lower() in _ENDINGS and not path.is_symlink() and path.is_file()
                if plain and not path.name.startswith(".") and os.access(path, os.R_OK):
                    yield path.relative_to(self.path).as_posix(), path

    def case(self, name: str) -> CaseFile:
        """The case of a name; raises `NotInFolder` for anything that is none."""
        path = self._within(name)
        if path.suffix.lower() not in _ENDINGS or path.is_symlink() or not path.is_file():
            raise NotInFolder(name)
        return CaseFile(path.relative_to(self.path).as_posix(), path)

    def _within(self, name: str) -> Path:
        """The path of a name, which has at most one folder and leads nowhere else."""
        parts = PurePosixPath(name).parts
        sound = 0 < len(parts) <= 2 and not any(
            part.startswith(".") or part in ("/", "") or "\\" in part or "\0" in part or ":" in part
            for part in parts
        )
        if not sound or len(name) > 400:
            raise NotInFolder(name)
        path = self.path.joinpath(*parts)
        try:
            inside = path.parent.resolve(strict=True)
        except OSError:
            raise NotInFolder(name) from None
        if inside != self.path.joinpath(*parts[:-1]):
            raise NotInFolder(name)
        return path

    def books(self) -> list[str]:
        """Names of the casebooks that stand in the folder itself."""
        looked = sorted(self.path.iterdir())[:MOST_LOOKED_AT]
        return [one.name for one in looked if self._is_book(one)]

    def book(self, name: str) -> Path:
        """The path of a casebook, which need not be there yet; raises `NotInFolder` for any other name."""
        path = self._within(name)
        sound = FILE_NAME.fullmatch(name) and path.suffix == BOOK_ENDING
        if not sound or (os.path.lexists(path) and not self._is_book(path)):
            raise NotInFolder(name)
        return path

    @staticmethod
    def _is_book(path: Path) -> bool:
        return (
            path.suffix == BOOK_ENDING
            and not path.name.startswith(".")
            and not path.is_symlink()
            and path.is_file()
        )

    def read(self, name: str) -> tuple[bytes, str]:
        """A case's bytes and which version they are; raises `NotInFolder`."""
        with open(self.case(name).path, "rb") as stream:
            data = stream.read(MOST_BYTES + 1)
        return data, text_digest(data)

    def change(self, name: str, text: str, version: str) -> str:
        """Write a case that was read in a version; gives the new one.

        Raises `ChangedMeanwhile` where it has another version now, `NotInFolder`.
        """
        with self._writing:
            if self.read(name)[1] != version:
                raise ChangedMeanwhile(name)
            return self._put(self.case(name).path, text)

    def add(self, name: str, text: str, replace: bool = False) -> str:
        """Write a file anew, over one of its name only with `replace`; gives its version.

        Raises `NotInFolder` for a name that may not be, and `FileExistsError`.
        """
        path = self._within(name)
        if not FILE_NAME.fullmatch(path.name):
            raise NotInFolder(name)
        with self._writing:
            if path.is_symlink() or (os.path.lexists(path) and not (replace and path.is_file())):
                raise FileExistsError(name)
            return self._put(path, text)

    def add_folder(self, name: str, files: Mapping[str, bytes]) -> None:
        """Write a folder of files, which appears only when all of them are there.

        Raises `NotInFolder` for a name that may not be, and `FileExistsError`.
        """
        path = self._within(name)
        if not all(FILE_NAME.fullmatch(one) for one in (name, *files)):
            raise NotInFolder(name)
        with self._writing:
            if os.path.lexists(path):
                raise FileExistsError(name)
            beside = _beside(path)
            try:
                beside.mkdir(mode=0o700)
                for one, data in files.items():
                    _write(beside / one, data)
                os.rename(beside, path)
            finally:
                shutil.rmtree(beside, ignore_errors=True)

    def _put(self, path: Path, text: str) -> str:
        data = text.encode("utf-8")
        beside = _beside(path)
        try:
            _write(beside, data)
            os.replace(beside, path)
        finally:
            beside.unlink(missing_ok=True)
        return text_digest(data)

    def clear_unfinished(self) -> None:
        """Take away what a server that was killed while it wrote has left; no case is one of these."""
        for below in (self.path, *(one for one in self.path.iterdir() if _plain_folder(one))):
            for path in below.iterdir():
                if not _UNFINISHED.fullmatch(path.name) or path.is_symlink():
                    continue
                if path.is_dir():
                    shutil.rmtree(path, ignore_errors=True)
                elif path.is_file():
                    path.unlink(missing_ok=True)


def _beside(path: Path) -> Path:
    """Where something is written before it takes its place."""
    return path.with_name(f".{path.name}.{secrets.token_hex(8)}.deskmend-part")


def _write(path: Path, data: bytes) -> None:
    """Write a new file for its owner alone, so that it is on the disk."""
    number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with open(number, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _plain_folder(path: Path) -> bool:
    return (
        not path.name.startswith(".")
        and not path.is_symlink()
        and path.is_dir()
        and os.access(path, os.R_OK | os.X_OK)
    )
