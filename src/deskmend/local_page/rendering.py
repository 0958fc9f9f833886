"""HTML of the local page: templates, style and modules, and the content policy that lets in these alone."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from deskmend.language import current_language
from deskmend.local_page.wording import words
from deskmend.report.html.blocks import page_environment
from deskmend.report.html.policy import content_policy

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["rendered", "screen"]

_IMPORT = re.compile(r'^import \{([^}]*)\} from "\./([a-z_]+\.js)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|const|let|class) )", re.MULTILINE)
_EXPORTED = re.compile(r"^export (?:async )?(?:function|const|let|class) (\w+)", re.MULTILINE)
_DRAWN = re.compile(r"^g \..*$", re.MULTILINE)
"""Lines of the report's style sheet that say how drawings look."""


def rendered(template: str, **values: Any) -> Markup:
    """A piece of HTML from a template."""
    return Markup(_environment().get_template(template).render(words=words(), **values))


def screen(template: str, module: str, given: Mapping[str, Any], **values: Any) -> tuple[str, str]:
    """A whole screen and its content policy; `given` is what its module is told."""
    style, script = _style(), inlined(module)
    told = json.dumps({**given, "words": words()}, ensure_ascii=False).replace("<", "\\u003c")
    html = rendered(
        template,
        language=current_language(),
        style=Markup(style),
        script=Markup(script),
        given=Markup(told),
        **values,
    )
    # Nothing goes out but to this server, and no other page may hold it in a frame.
    more = "connect-src 'self'; frame-ancestors 'none'; "
    return str(html), content_policy(style, script, pictures="data: blob:", more=more)


@cache
def inlined(name: str) -> str:
    """A module with those that it imports, as one text that can be let in by its hash.

    Each one imported becomes a function that is called once, so that its names stay its own.
    """
    known: dict[str, str] = {}

    def own(one: str) -> str:
        return f"module_{one.removesuffix('.js')}"

    def body(one: str) -> str:
        text = _module(one)
        for _, other in _IMPORT.findall(text):
            if other not in known:
                known[other] = ""
                told = body(other)
                given = ", ".join(_EXPORTED.findall(told))
                inside = _EXPORT.sub("", told)
                known[other] = f"const {own(other)} = (() => {{\n{inside}\nreturn {{ {given} }};\n}})();\n"
                order.append(other)
        return _IMPORT.sub(lambda found: f"const {{{found[1]}}} = {own(found[2])};\n", text)

    order: list[str] = []
    main = body(name)
    return "\n" + "".join(known[one] for one in order) + main


def _module(name: str) -> str:
    """The text of a module: of this page, or of those that other pages have too."""
    folder = files("deskmend.local_page").joinpath("modules", name)
    shared = files("deskmend.report").joinpath("templates", name)
    return (folder if folder.is_file() else shared).read_text(encoding="utf-8")


@cache
def _style() -> str:
    drawn = files("deskmend.report").joinpath("templates", "page.css").read_text(encoding="utf-8")
    asked = files("deskmend.report").joinpath("templates", "questions.css").read_text(encoding="utf-8")
    return "\n".join(["", *_DRAWN.findall(drawn), asked, _file("templates", "screens.css")])


def _file(folder: str, name: str) -> str:
    return files("deskmend.local_page").joinpath(folder, name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return page_environment("deskmend.local_page")
