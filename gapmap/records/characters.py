"""Characters that a web page has written as entities."""

from __future__ import annotations

import html
import re

_ENTITY = re.compile(r"&(?:#\d{1,6}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z]{2,8});")


def with_characters(text: str) -> str:
    """A text with its entities read as the characters they stand for; what is no entity stays.

    Examples
    --------
    >>> with_characters("Marsh &amp; Holt, M&#252;ller"), with_characters("A &B. Holt; C")
    ('Marsh & Holt, Müller', 'A &B. Holt; C')
    """
    return _ENTITY.sub(lambda entity: html.unescape(entity[0]), text) if "&" in text else text
