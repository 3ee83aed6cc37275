"""The words of the page: one table, so that another language is another file."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files


@cache
def page_words(language: str = "en") -> dict[str, str]:
    """Every word the page shows, by its key.

    Parameters
    ----------
    language
        Ending of the file in ``files/``: ``words.en.json`` for ``en``.

    Examples
    --------
    >>> page_words()["language"]
    'en-GB'
    """
    text = files(__package__).joinpath("files", f"words.{language}.json").read_text(encoding="utf-8")
    words: dict[str, str] = json.loads(text)
    return words
