"""Stage, sex, quantity, time of day and evidence as people write them → a few fixed words.

A word that is not understood is kept as it was written, with a note. Only a count of nought makes a row no record.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence

import pandas as pd

from gapmap.records.verdicts import DOUBT, FINE, NOT_A_RECORD, NOTE, Verdict, quoted, verdicts_to_frame

_STAGES = {
    "egg": r"eggs?|ova|ovum|spawn|egg[- ]?(?:mass|batch|case|sac)s?|ootheca[e]?",
    "larva": (
        r"larva[el]?|larvae|caterpillars?|grubs?|maggots?|tadpoles?|lv|larv\.?|leaf ?mines?|mines?|case"
        r"|larval case"
    ),
    "nymph": r"nymphs?|nymphal",
    "pupa": r"pupa[el]?|chrysalis(?:es)?|cocoons?|puparia|puparium",
    "exuvia": r"exuvia[e]?|cast skins?|shed skins?",
    "juvenile": (
        r"j|juv(?:enile)?s?\.?|imm(?:ature)?s?\.?|young|sub-?adults?|subad\.?|fledglings?|chicks?|nestlings?"
        r"|cubs?|kits?|seedlings?|saplings?"
    ),
    "adult": r"ads?\.?|adults?|imago(?:es|s)?|imagines|mature|workers?|queens?|drones?|soldiers?|alates?|winged",
    "gall": r"galls?",
    "flowering": r"(?:in )?flower(?:s|ing)?|fls?\.?|(?:in )?bloom(?:ing)?",
    "fruiting": r"(?:in )?fruit(?:s|ing)?|fr\.?|fruit(?:ing)? bod(?:y|ies)|in seed|seeding",
    "vegetative": r"veg(?:etative)?\.?|(?:in )?leaf|leaves|rosettes?",
    "dead": r"dead|remains|corpse|carcass|skeleton|shells?|elytra|road ?kill|skull|bones?",
}
_MALE = r"♂+|♂♂|males?|m|mm|cocks?|drakes?|drones?|bulls?|stags?|bucks?|rams?|boars?|toms?"
_FEMALE = r"♀+|♀♀|females?|f|ff|fem\.?|hens?|ducks|queens?|workers?|cows?|does?|hinds?|sows?|vixens?|ewes?"
_BOTH = (
    r"⚥|both(?: sexes)?|m ?[+&/,] ?f|mf|m ?and ?f|pairs?|male(?:s)? (?:and|&|\+|/) ?female(?:s)?"
    r"|hermaphrodites?|mixed|♂♀|♀♂|♂ ?[+&/,] ?♀"
)
_NOTHING = re.compile(
    r"(?:unknown|unk|not (?:known|recorded|given|sexed|aged|stated)|n/?a|nan|none|null|nil|indeterminate"
    r"|undetermined|undet\.?|u|\?+|-+|\.+|na)",
)
_WORDS_OF_QUANTITY = {
    "several": r"several|sev\.?|a few|few|some|handful|a handful",
    "many": (
        r"many|lots|numerous|large numbers?|masses|hundreds|thousands|\d0+s|swarms?|swarming|dozens|tens"
        r"|plenty|loads"
    ),
    "present": r"present|p|yes|y|x|✓|✔|seen|\+|tick|true",
    "dominant": r"dominant|d",
    "abundant": r"abundant|a|abund\.?|v\.? ?abundant|very abundant|super-?abundant",
    "frequent": r"frequent|f|freq\.?",
    "common": r"common|c|very common|v\.? ?common",
    "occasional": r"occasional|o|occ\.?",
    "rare": r"rare|r|scarce|scattered|sparse|uncommon",
    "colony": r"colony|colonies|nest|nests",
}
_NUMBERS = {
    word: number
    for number, word in enumerate(
        ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"), start=1
    )
} | {
    "a": 1,
    "an": 1,
    "single": 1,
    "singleton": 1,
    "a single": 1,
    "pair": 2,
    "a pair": 2,
    "couple": 2,
    "a couple": 2,
    "dozen": 12,
    "a dozen": 12,
}
_LETTERS_FOR_DIGITS = str.maketrans("oil", "011")
_ABSENT = re.compile(r"(?:0+|none|nil|zero|absent|not (?:found|seen|present)|no|nothing|false|0\.0+)")
_KIND = {
    "male": _MALE.replace("|f|", "|"), "female": _FEMALE, **_STAGES,
}  # fmt: skip
_KIND_WORDS = {kind: re.compile(f"(?:{pattern})", re.I) for kind, pattern in _KIND.items()}
_COUNTED = re.compile(
    r"(?P<about>c\.?|ca\.?|circa|about|approx\.?|~|>|<|≥|≤|at least|min\.?|over|up to|more than|less than|under)?\s*"
    r"(?P<low>\d{1,7})(?:\.0+)?(?:\s*(?:-|to)\s*(?P<high>\d{1,7}))?(?P<plus>\s*\+(?!\s*\d)|\s*plus)?\s*"
    r"(?P<kind>♂+|♀+|[a-z][a-z .]*?)?\s*(?:$|,(?!\d)\s*|[;&+/]\s*|\band\b\s*|\bwith\b\s*|(?<!\d)(?=\d))",
    re.I,
)
_GLUED_AFTER = re.compile(r"(♂+|♀+)\s*(\d+)")
_EVIDENCE = {
    "dissection": r"dissect\w*|gen(?:italia)?\.? ?det\.?|genitalia|gen\.? prep\w*|slide",
    "microscope": r"microscop\w*|micro\.?",
    "voucher": (
        r"voucher\w*|specimens?|preserved ?specimens?|retained|kept|collected|herbarium|pinned|museum\w*"
        r"|collection|materialsample|material ?citation"
    ),
    "dna": r"dna|barcod\w*|edna|sequenc\w*",
    "photograph": r"photo\w*|pic|picture|image|stillimage|camera ?trap|video|movingimage",
    "sound": r"heard|call(?:s|ing)?|song|singing|stridulat\w*|sound|recording|audio|bat detector|detector",
    "reared": r"reared|bred|rearing|ex[- ](?:larva|pupa)\w*",
    "hand lens": r"hand ?lens|lens|×10|x10|loupe",
    "trace": (
        r"tracks?|prints?|footprints?|droppings|scat|spraints?|dung|faeces|feeding (?:signs?|remains)"
        r"|burrows?|setts?|nests?|webs?|pellets?|signs?"
    ),
    "seen": (
        r"seen|sight(?:ing)?s?|sight ?record|field(?: record| observation)?|obs(?:erved|ervation)?\.?|visual"
        r"|humanobservation|human ?observation|eye|naked eye"
    ),
    "machine": r"machine ?observation|sensor|logger",
    "literature": r"literature|lit\.?|published|paper|book|card index|archive",
}  # fmt: skip
_EVIDENCE_WORDS = {
    word: re.compile(rf"\b(?:{pattern})(?:\b|$)|^(?:{pattern})$", re.I) for word, pattern in _EVIDENCE.items()
}
_TIMES = {
    "night": (
        r"night(?:[- ]?time)?|at night|after dark|nocturnal|midnight|overnight|dark|moth ?trap|light ?trap"
        r"|by torch(?:light)?"
    ),
    "dusk": r"dusk|evening|eve|sunset|twilight|late evening|crepuscular|dawn|sunrise",
    "day": (
        r"day(?:[- ]?time)?|by day|diurnal|daylight|morning|am|pm|a\.m\.|p\.m\.|noon|midday|mid-?day"
        r"|afternoon|lunch ?time|early morning|late afternoon"
    ),
}
_CLOCK = re.compile(
    r"(?:.*?[\dt]\s*[t ])??\s*(?P<hour>[01]?\d|2[0-4])(?:[:.h](?P<minute>[0-5]\d))?(?::?[0-5]\d(?:\.\d+)?)?\s*"
    r"(?P<half>[ap]\.?\s?m\.?)?\s*(?:hrs?|hours?|h|o'?clock)?\s*(?:z|utc|gmt|bst|[+-]\d{2}:?(?:\d{2})?)?",
    re.I,
)
_FOUR = re.compile(r"(?P<hour>[01]\d|2[0-3])(?P<minute>[0-5]\d)\s*(?:hrs?|hours?|h|z)?", re.I)


def texts_to_stage(texts: Sequence[str]) -> pd.DataFrame:
    """Stages as people write them: egg, larva, nymph, pupa, exuvia, juvenile, adult, flowering … joined by '; '.

    Returns
    -------
    DataFrame
        ``value`` (the text itself when it is not understood, empty when nothing is said) and the verdict.

    Examples
    --------
    >>> texts_to_stage(["Adult male", "larvae & pupae", ""]).value.tolist()
    ['adult', 'larva; pupa', '']
    """
    return _resolved(texts, _stage)


def texts_to_sex(texts: Sequence[str]) -> pd.DataFrame:
    """Sexes as people write them: male, female or both.

    Examples
    --------
    >>> texts_to_sex(["♂", "F", "1m 2f", "adult", "unsexed"]).value.tolist()
    ['male', 'female', 'both', '', '']
    """
    return _resolved(texts, _sex)


def texts_to_quantity(texts: Sequence[str]) -> pd.DataFrame:
    """Counts and words of abundance as people write them.

    Returns
    -------
    DataFrame
        ``value`` (such as ``5``, ``10-20``, ``50+``, ``c. 30``, ``several``, or parts such as ``3 male; 2 female``),
        the ``stage`` and ``sex`` it tells besides, ``count`` (the lowest number it can be; -1 when it tells none), and
        the verdict. A count of nought is no record: it says that the species was not found.

    Examples
    --------
    >>> found = texts_to_quantity(["3♂ 2♀", "1m 2f", "several", "10-20", ""])
    >>> found.value.tolist(), found.sex.tolist()
    (['3 male; 2 female', '1 male; 2 female', 'several', '10-20', ''], ['both', 'both', '', '', ''])
    >>> found["count"].tolist()
    [5, 3, -1, 10, -1]
    """
    answers = {text: _quantity(_plain(text), text) for text in dict.fromkeys(map(_as_text, texts))}
    rows = [answers[_as_text(text)] for text in texts]
    found = pd.DataFrame(
        {
            name: pd.Series([row[place] for row in rows], dtype=kind)
            for place, (name, kind) in enumerate(
                (("value", "str"), ("stage", "str"), ("sex", "str"), ("count", "int64"))
            )
        }
    )
    return pd.concat([found, verdicts_to_frame([row[4] for row in rows])], axis=1)


def texts_to_time_of_day(texts: Sequence[str]) -> pd.DataFrame:
    """Times as people write them: day, dusk, night, or the hour as 00 to 23.

    Dawn and dusk are one word here: the hours between light and dark. A midnight of exactly 00:00:00 behind a date is
    what spreadsheets write for no time at all, and is taken as nothing said.

    Examples
    --------
    >>> texts_to_time_of_day(["21:30", "9.15 pm", "after dark", "1998-05-12 00:00:00"]).value.tolist()
    ['21', '21', 'night', '']
    """
    return _resolved(texts, _time_of_day)


def texts_to_evidence(texts: Sequence[str]) -> pd.DataFrame:
    """What an identification rests on: seen, heard, photograph, voucher, microscope, dissection … joined by '; '.

    Examples
    --------
    >>> texts_to_evidence(["Photo taken", "gen. det. from specimen", "HumanObservation"]).value.tolist()
    ['photograph', 'dissection; voucher', 'seen']
    """
    return _resolved(texts, _evidence)


def _resolved(texts: Sequence[str], read: Callable[[str, str], tuple[str, Verdict]]) -> pd.DataFrame:
    answers = {text: read(_plain(text), text) for text in dict.fromkeys(map(_as_text, texts))}
    rows = [answers[_as_text(text)] for text in texts]
    values = pd.DataFrame({"value": pd.Series([row[0] for row in rows], dtype="str")})
    return pd.concat([values, verdicts_to_frame([row[1] for row in rows])], axis=1)


def _as_text(text: object) -> str:
    return "" if text is None or text != text else str(text)


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text[:300]).replace("\0", " ").translate({0x2013: "-", 0x2014: "-"}).lower()
    plain = " ".join(folded.split()).strip(" \"'`,;:[]()")
    return "" if _NOTHING.fullmatch(plain) else plain


def _not_understood(text: str, what: str) -> tuple[str, Verdict]:
    shown = " ".join(text.split())
    verdict = Verdict(f"{what} not read", NOTE, f"The {what} {quoted(text)} was kept as it is written.")
    return shown, verdict


def _pieces(plain: str) -> list[str]:
    return [piece for piece in re.split(r"\s*(?:[,;&+/]|\band\b|\bwith\b|\s-\s)\s*|\s+", plain) if piece]


def _stage(plain: str, text: str) -> tuple[str, Verdict]:
    if not plain:
        return "", FINE
    found = [
        stage
        for stage, pattern in _STAGES.items()
        if re.search(rf"(?:^|[\s\d,;&+/(-])(?:{pattern})(?:$|[\s,;&+/)-])", plain)
    ]
    if found:
        return "; ".join(found), FINE
    return ("", FINE) if _sex(plain, text)[0] else _not_understood(text, "stage")


def _sex(plain: str, text: str) -> tuple[str, Verdict]:
    if not plain or re.fullmatch(r"un-?sexed|not sexed|worker caste", plain):
        return "", FINE
    if re.fullmatch(_BOTH, plain):
        return "both", FINE
    around = r"(?:^|[\s\d,;&+/(-]){}(?:$|[\s\d,;&+/).-])"
    male = re.search(around.format(f"(?:{_MALE})"), plain) or "♂" in plain
    female = re.search(around.format(f"(?:{_FEMALE})"), plain) or "♀" in plain
    if male or female:
        return "both" if male and female else "male" if male else "female", FINE
    is_stage = any(re.search(rf"\b(?:{pattern})", plain) for pattern in _STAGES.values())
    return ("", FINE) if is_stage or re.fullmatch(r"[\d\s.]+", plain) else _not_understood(text, "sex")


def _quantity(plain: str, text: str) -> tuple[str, str, str, int, Verdict]:
    if _ABSENT.fullmatch(plain or text.strip().lower()):
        return (
            "0",
            "",
            "",
            0,
            Verdict(
                "none found",
                NOT_A_RECORD,
                f"The quantity {quoted(text)} says that the species was not found.",
                "leave the row out, or correct the count",
            ),
        )
    if not plain:
        return "", "", "", -1, FINE
    if below := re.fullmatch(r"-\s*(\d{1,7})\D*", plain):
        words = f"The quantity {quoted(text)} is below nought; it is kept as it is written."
        return text.strip(), "", "", -1, Verdict("count cannot be", DOUBT, words, f"{below[1]}, if the dash is a slip")
    if re.fullmatch(r"(?=.*\d)(?=.*[oil])[\doil]{2,7}", plain):
        number = plain.translate(_LETTERS_FOR_DIGITS)
        words = f"The quantity {quoted(text)} has a letter among its digits; it is kept as it is written."
        return text.strip(), "", "", -1, Verdict("count cannot be", DOUBT, words, f"{number}, if a digit was meant")
    for word, pattern in _WORDS_OF_QUANTITY.items():
        if re.fullmatch(pattern, plain):
            return word, "", "", -1, FINE
    if plain in _NUMBERS:
        return str(_NUMBERS[plain]), "", "", _NUMBERS[plain], FINE
    worded = re.sub(
        r"\b(" + "|".join(sorted(_NUMBERS, key=len, reverse=True)) + r")\b(?=\s+[a-z♂♀])",
        lambda match: str(_NUMBERS[match[1]]), _GLUED_AFTER.sub(r"\2\1", plain) if plain[0] in "♂♀" else plain,
    )  # fmt: skip
    parts = _counted_parts(re.sub(r"(?<=\d),(?=\d{3}\b)", "", worded))
    if parts is None:
        stage, sex = _implied(plain)
        value, verdict = _not_understood(text, "quantity")
        return value, stage, sex, -1, verdict
    said = [f"{number} {kind}".strip() for number, kind, _ in parts]
    sexes = {kind for _, kind, _ in parts if kind in ("male", "female")}
    stages = dict.fromkeys(kind for _, kind, _ in parts if kind in _STAGES)
    sex = "both" if len(sexes) == 2 else next(iter(sexes), "")
    return "; ".join(said), "; ".join(stages), sex, sum(low for _, _, low in parts), FINE


def _counted_parts(plain: str) -> list[tuple[str, str, int]] | None:
    """``3 male, 2 female, 10+ larvae`` as number, kind and lowest count of each part; None when it is no such thing."""
    place, parts = 0, []
    while place < len(plain):
        match = _COUNTED.match(plain, place)
        if match is None or match.end() == place:
            return None
        kind = _kind(match["kind"] or "")
        if kind is None:
            return None
        low, about = int(match["low"]), (match["about"] or "").strip(". ")
        number = str(low) if match["high"] is None else f"{low}-{int(match['high'])}"
        if match["plus"] or about in (">", "≥", "at least", "min", "over", "more than"):
            number += "+"
        elif about in ("<", "≤", "up to", "less than", "under"):
            number = f"up to {number}"
        elif about:
            number = f"c. {number}"
        parts.append((number, kind, low))
        place = match.end()
    return parts or None


def _kind(word: str) -> str | None:
    plain = word.strip(" .")
    if not plain or re.fullmatch(
        r"individuals?|ind|inds|ex|exx|examples?|specimens?|animals?|plants?|seen|counted|no|nos|birds?|of", plain
    ):
        return ""
    return next((kind for kind, pattern in _KIND_WORDS.items() if pattern.fullmatch(plain)), None)


def _implied(plain: str) -> tuple[str, str]:
    return _stage(plain, "")[0] if re.search(r"larv|pupa|nymph|juv|egg|adult", plain) else "", (
        _sex(plain, "")[0] if re.search(r"male|♂|♀", plain) else ""
    )


def _time_of_day(plain: str, text: str) -> tuple[str, Verdict]:
    if not plain or re.fullmatch(r".*\d[t ]\s*00:00(?::00(?:\.0+)?)?z?", plain):
        return "", FINE
    for word, pattern in _TIMES.items():
        if re.fullmatch(pattern, plain):
            return word, FINE
    start = re.split(r"\s*(?:/(?=\d{1,2}:)|\s-\s|(?<=\d)-(?=\d{1,2}[:.])|\bto\b|\buntil\b)\s*", plain)[0]
    if re.fullmatch(r"0?\.\d+", plain):
        return f"{int(float(plain) * 24 + 1e-6) % 24:02d}", FINE
    match = _FOUR.fullmatch(start) or _CLOCK.fullmatch(start)
    if match is None or (
        match["minute"] is None and not match.groupdict().get("half") and not re.search(r"h|clock", start)
    ):
        for word, pattern in _TIMES.items():
            if re.search(rf"\b(?:{pattern})\b", plain):
                return word, FINE
        if re.fullmatch(r"\d{4}(?:-\d{2}(?:-\d{2})?)?", plain):
            return "", FINE
        return "", Verdict(
            "time not read",
            NOTE,
            f"The time {quoted(text)} could not be read.",
            "a time such as 21:30, or day, dusk or night",
        )
    hour = int(match["hour"]) % 24
    half = (match.groupdict().get("half") or "").lower()
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    return f"{hour:02d}", FINE


def _evidence(plain: str, text: str) -> tuple[str, Verdict]:
    if not plain or plain in ("no", "n"):
        return "", FINE
    found = [word for word, pattern in _EVIDENCE_WORDS.items() if pattern.search(plain)]
    return ("; ".join(found), FINE) if found else _not_understood(text, "evidence")
