"""A page that is one file: its own style and script, let in by their hash, and nothing else."""

from __future__ import annotations

import base64
import hashlib
from typing import Any

from markupsafe import Markup

from deskmend.language import current_language
from deskmend.report.html.blocks import page_environment

__all__ = ["content_policy", "whole_page"]


def content_policy(style: str, script: str, pictures: str = "data:", more: str = "") -> str:
    """Policy that lets in this style, this script and pictures that stand in the page, and no request.

    `pictures` says where else pictures may come from, `more` what else is let in or kept out.
    """
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src {pictures}; "
        f"{more}base-uri 'none'; form-action 'none'"
    )


def whole_page(template: str, style: str, script: str = "", **of: Any) -> str:
    """A template of the report filled in as a whole page of its own, with a style and perhaps a script."""
    return (
        page_environment()
        .get_template(template)
        .render(
            language=current_language(),
            policy=content_policy(style, script),
            style=Markup(style),
            script=Markup(script),
            **of,
        )
    )


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}"
