"""Writing a file, or a folder of files, whole or not at all."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from deskmend.errors import Fault, InputFaults, option_fault


def refuse_folder(path: Path) -> None:
    """Refuse a place for a folder before hours of work are spent on what would go there.

    `InputFaults` where something is there already, or the place cannot be used.
    """

    def refused(note: str) -> InputFaults:
        return InputFaults([Fault(str(path), None, "--out", None, "a new or empty folder", note=note)])

    try:
        if path.is_symlink() or (path.exists() and not path.is_dir()):
            raise refused("is there already and is no folder")
        if path.is_dir() and any(path.iterdir()):
            raise refused("is there already and is not empty")
        if not path.parent.is_dir():
            raise refused("the folder it would stand in does not exist")
        if not os.access(path.parent, os.W_OK):
            raise refused("the folder it would stand in may not be written to")
    except (OSError, ValueError):
        raise refused("not a usable path") from None


LEFT_AFTER = 3600
"""Age from which a half-written folder counts as left by a killed process [s]; writing one takes seconds."""


def clear_half_written(path: Path) -> None:
    """Remove what processes that were killed have left half written beside a folder."""
    start, old = f".{path.name}.", time.time() - LEFT_AFTER
    try:
        left = [one for one in path.parent.iterdir() if one.name.startswith(start) and one.suffix == ".part"]
        for one in left:
            if one.is_dir() and not one.is_symlink() and one.stat().st_mtime < old:
                shutil.rmtree(one, ignore_errors=True)
    except OSError:
        # another process clears here too, or this one may not: neither is in the way of what is written now
        return


def write_folder(path: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files about people, by path within it, into a new folder, which appears only when all are there.

    Nobody but the owner may read them. An empty folder is replaced. `InputFaults` where it cannot be written,
    or something has come to stand there.
    """
    refuse_folder(path)
    clear_half_written(path)
    beside = None
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent))
        for name, content in files.items():
            file = beside / name
            for folder in reversed(file.relative_to(beside).parents[:-1]):
                (beside / folder).mkdir(mode=0o700, exist_ok=True)
            descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with open(descriptor, "wb") as stream:
                stream.write(content.encode("utf-8") if isinstance(content, str) else content)
        if path.is_dir():
            path.rmdir()
        os.rename(beside, path)
        beside = None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        note = f"cannot be written: {reason}"
        allowed = "a new or empty folder that may be written to"
        raise InputFaults([Fault(str(path), None, "--out", None, allowed, note=note)]) from None
    finally:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)


def write_folder_or_another(
    path: Path, files: Mapping[str, str | bytes], another: Callable[[], str | None]
) -> tuple[Path | None, list[Fault]]:
    """Write a folder like `write_folder`; where that fails, one that is named instead, else one of our own.

    `another` tells the next folder to try, None for no more. Gives where the files stand, None for nowhere,
    with the faults of every place that would not do.
    """
    faults: list[Fault] = []
    while True:
        try:
            write_folder(path, files)
            return path, faults
        except InputFaults as error:
            faults += error.faults
        named = another()
        if named is None:
            break
        path = Path(named)
    try:
        path = Path(tempfile.mkdtemp(prefix="deskmend-")) / "allocation"
        write_folder(path, files)
    except OSError:
        return None, faults
    except InputFaults as error:
        return None, [*faults, *error.faults]
    return path, faults


def _refuse_to_write(path: Path, allowed: str, note: str) -> InputFaults:
    return InputFaults([Fault(str(path), None, "", None, allowed, note=note)])


def refuse_existing(path: Path, force: bool) -> None:
    """Refuse a folder, and without `force` a file that is there already."""
    if path.is_dir():
        raise _refuse_to_write(path, "a file", "is a folder")
    if not force and os.path.lexists(path):
        raise _refuse_to_write(path, "a new file, or --force to write over it", "is there already")


def refuse_target(path: Path) -> None:
    """Refuse before a long search what could not be written after it: a folder, or a file in none."""
    refuse_existing(path, force=True)
    if not path.parent.is_dir():
        raise _refuse_to_write(
            path, "a file in a folder that is there", "cannot be written: there is no such folder"
        )


def refuse_other_than_page(out: str) -> None:
    """Refuse a name of ``--out`` that is no page's, and what could not be written."""
    if not out.lower().endswith((".html", ".htm")):
        raise InputFaults([option_fault("--out", out, "a name that ends in .html")])
    refuse_target(Path(out))


def write_new(path: Path, content: str | bytes, force: bool) -> None:
    """Write a file whole or not at all, text in UTF-8; without `force` never over one that is there.

    `InputFaults` where it is there already, or cannot be written.
    """
    with _put_in_place(path) as beside:
        refuse_existing(path, force)
        with open(beside, "xb") as stream:
            stream.write(content.encode("utf-8") if isinstance(content, str) else content)


def write_over(path: Path, text: str, digest: str) -> None:
    """Write a file about people anew, whole or not at all, for its owner's eyes alone.

    `digest` is the SHA-256 of what is there now, empty for nothing. `InputFaults` where something else has
    come to stand there, since somebody else may have written to it, or where it cannot be written.
    """
    with _put_in_place(path) as beside:
        now = hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""
        if now != digest:
            raise _refuse_to_write(path, "the file as it was read", "has changed since; run it once more")
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with open(descriptor, "wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())


@contextmanager
def _put_in_place(path: Path) -> Iterator[Path]:
    """A file beside another, to be written and then put in its place; `InputFaults` where that fails."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part") if path.name else path
    try:
        yield beside
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "not a usable path"
        raise _refuse_to_write(
            path, "a file in a folder that may be written to", f"cannot be written: {reason}"
        ) from None
    finally:
        _remove(beside)


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except (OSError, ValueError):
        return
