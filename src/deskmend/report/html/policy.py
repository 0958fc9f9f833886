"""Content policy of a page that is one file: its own style and script and nothing else, by their hash."""

from __future__ import annotations

import base64
import hashlib

__all__ = ["content_policy"]


def content_policy(style: str, script: str, pictures: str = "data:", more: str = "") -> str:
    """Policy that lets in this style, this script and pictures that stand in the page, and no request.

    `pictures` says where else pictures may come from, `more` what else is let in or kept out.
    """
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src {pictures}; "
        f"{more}base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}"
