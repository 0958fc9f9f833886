"""What all addresses of the local page share: folder and engine, refusals as answers, what was sent."""

from __future__ import annotations

import asyncio
import json
import threading
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from contextvars import copy_context
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any, TypeVar

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response

from deskmend.errors import InputFaults
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.language import measuring, reading, tr
from deskmend.local_page.engine import Engine, Inquiry, Manner
from deskmend.local_page.folder import CaseFolder, ChangedMeanwhile, NotInFolder
from deskmend.local_page.rendering import screen
from deskmend.local_page.safety import Keys, TooLarge, bounded_body

__all__ = [
    "LocalPage",
    "Unfit",
    "begun",
    "handled",
    "json_sent",
    "known_inquiry",
    "made_screen",
    "names_sent",
    "text_sent",
    "waited",
]

MOST_TOLD = 200_000
"""Largest change or question, but for pictures [bytes]."""
MOST_NAMES = 100
"""Most wishes of one kind, as in a case."""

_Found = TypeVar("_Found")
Handler = Callable[["LocalPage", Request], Awaitable[Response]]


@dataclass
class LocalPage:
    """What the addresses share: the folder, the engine, the secrets and the reader."""

    folder: CaseFolder
    engine: Engine
    keys: Keys
    manner: Manner
    pictures: OrderedDict[str, bytes] = field(default_factory=OrderedDict)
    """Pictures that are being marked, in memory alone."""
    catalog_folder: str | None = None
    opened: Callable[[], None] = lambda: None
    """Called when the token has been spent, so that the file that opens the page gets the next one."""
    book_writing: threading.Lock = field(default_factory=threading.Lock)
    """Held while a casebook is written."""

    @cached_property
    def catalog(self) -> Catalog:
        """The fixes to choose from."""
        return load_catalog(self.catalog_folder)


class Unfit(Exception):
    """What was sent is none of what may be sent."""


def handled(page: LocalPage, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """Answer in the reader's language, and turn every refusal into a status."""

    @wraps(handler)
    async def answer(request: Request) -> Response:
        with reading(page.manner.language), measuring(page.manner.unit):
            try:
                return await handler(page, request)
            except NotInFolder:
                return PlainTextResponse(tr("There is no such thing in this folder.") + "\n", 404)
            except Unfit:
                return PlainTextResponse(tr("This cannot be understood.") + "\n", 400)
            except TooLarge:
                return PlainTextResponse(tr("That is too large.") + "\n", 413)
            except ChangedMeanwhile:
                told = tr(
                    "Somebody changed this meanwhile, in another window or program. Nothing was written."
                )
                return PlainTextResponse(told + "\n", 409)
            except FileExistsError:
                told = tr("A file of that name is there already. Nothing was written.")
                return PlainTextResponse(told + "\n", 409)
            except InputFaults as found:
                return PlainTextResponse(f"{found}\n", 422)
            except OSError as error:
                told = tr("The folder cannot be read or written: {reason}.", reason=error.strerror or "?")
                return PlainTextResponse(told + "\n", 500)

    return answer


def made_screen(
    page: LocalPage, template: str, module: str, given: Mapping[str, Any], **values: Any
) -> Response:
    """A whole screen; `given` is what its module is told."""
    html, policy = screen(template, module, {**given, "secret": page.keys.page}, **values)
    return HTMLResponse(html, headers={"content-security-policy": policy})


def begun(asked: Inquiry | None, version: str) -> Response:
    """The number by which a question is asked after; refused where too much waits."""
    if asked is None:
        return PlainTextResponse(tr("Too much is waiting. Try again in a moment.") + "\n", 429)
    return JSONResponse({"number": asked.number, "version": version})


def known_inquiry(page: LocalPage, number: str) -> Inquiry:
    """A question by its number; raises `Unfit`."""
    asked = page.engine.find(number)
    if asked is None:
        raise Unfit
    return asked


async def json_sent(request: Request) -> dict[str, Any]:
    """What was sent, as a group of keys; raises `Unfit`."""
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise Unfit
    try:
        told = json.loads(await bounded_body(request, MOST_TOLD))
    except (ValueError, RecursionError):
        raise Unfit from None
    if not isinstance(told, dict):
        raise Unfit
    return told


def text_sent(told: Mapping[str, Any], key: str, most: int = 500) -> str:
    """A text of at most so many characters."""
    text = told.get(key)
    if not isinstance(text, str) or len(text) > most:
        raise Unfit
    return text


def names_sent(told: Mapping[str, Any], key: str) -> list[str]:
    """Names of fixes; whether they are any is looked at where they are read."""
    names = told.get(key)
    if not isinstance(names, list) or len(names) > MOST_NAMES:
        raise Unfit
    if not all(isinstance(name, str) and len(name) <= 200 for name in names):
        raise Unfit
    return names


async def waited(work: Callable[[], _Found]) -> _Found:
    """What takes a while, or waits for another writer, beside the other requests."""
    return await asyncio.to_thread(copy_context().run, work)
