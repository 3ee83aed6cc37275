"""A date's text made plain: lower case, one kind of dash and digit, no clock time, no weekday."""

from __future__ import annotations

import re
import unicodedata

_TIME = (
    r"(?:(?:[t\s]\s*(?:at\s*)?(?:[01]?\d|2[0-4])(?:[:.][0-5]\d){1,2}(?:[.,]\d+)?\s*(?:[ap]\.?m\.?|hrs?|h)?"
    r"|t(?:[01]\d|2[0-4])(?:[0-5]\d){0,2}|\s\d{4}\s?(?:hrs?|h)|\s\d{1,2}\s?[ap]\.?m\.?)"
    r"\s*(?:z|utc|gmt|bst|[+-]\d{2}:?(?:\d{2})?)?)"
)
_TIME_AFTER = re.compile(rf"(?<=\d){_TIME}(?=$|/|\s*-\s|\s+to\s)")
_TIME_BEFORE = re.compile(r"^(?:[01]?\d|2[0-3])[:.][0-5]\d(?::[0-5]\d)?\s*(?:[ap]\.?m\.?)?[\s,]+(?=\d)")
_CLOCK = re.compile(r"t?(?:[01]?\d|2[0-4]):[0-5]\d(?::[0-5]\d(?:[.,]\d+)?)?\s*(?:z|[+-]\d{2}:?(?:\d{2})?)?")
_WEEKDAY = re.compile(r"\b(mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?\b\.?,?\s*")
_ORDINAL = re.compile(r"(?<=\d)\s?(?:st|nd|rd|th)\b(?!\s*(?:century|cent|c\b))")
#: A full stop before the dash of a range, as in 11./12.5.2019.
_STOP_IN_RANGE = re.compile(r"(?:(?<=\b\d)|(?<=\b\d\d))\.(?=\s?[-/&+]\s?\d\d?\b)")
_NIGHT = re.compile(r"^(?:the )?nights?(?: of(?: the)?)? (?=\d)|\s\(?night$")
_WORDS = str.maketrans(
    {
        "–": "-",
        "—": "-",
        "‐": "-",
        "‑": "-",
        "−": "-",
        "‒": "-",
        "’": "'",
        "‘": "'",
        "\u00a0": " ",
        "∕": "/",
        "⁄": "/",
        "\\": "/",
    }
)


def text_to_plain(text: str) -> str:
    """Lower case, one kind of dash and digit, single spaces, no stray punctuation or "night of" around."""
    folded = unicodedata.normalize("NFKC", str(text)[:1000]).translate(_WORDS).lower()
    folded = re.sub(r"\b(\d{1,2})\s*,\s*(?=\d{1,2}\b)", r"\1&", folded)
    folded = re.sub(r"[\s\x00_,;]+", " ", folded).strip(" '\"`!:*[](){}")
    folded = _STOP_IN_RANGE.sub("", _NIGHT.sub("", folded))
    return re.sub(r"(?<!\.)\.$", "", folded) if re.search(r"[\d]\.$", folded) else folded


def without_time(plain: str) -> str:
    """Drop clock times: a record's day is the day written beside the clock, whatever the time zone."""
    left = _TIME_AFTER.sub("", _TIME_BEFORE.sub("", plain))
    start, slash, end = left.partition("/")
    return start if slash and _CLOCK.fullmatch(end) else left


def without_weekday(plain: str) -> tuple[str, str]:
    match = _WEEKDAY.search(plain)
    if match is None or not re.search(r"\d", plain):
        return _ORDINAL.sub("", plain), ""
    return _ORDINAL.sub("", _WEEKDAY.sub("", plain, count=1)).strip(), match[1][:3]
