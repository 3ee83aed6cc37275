"""One cell of recorders as people write it → the people in it, and who named the species."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

from gapmap.records.characters import with_characters

_TITLE = re.compile(r"\b(?:dr|mr|mrs|ms|miss|mx|prof|professor|rev|revd|sir|lady|lord|capt|col|fr|canon)\b\.?\s*", re.I)
_LETTERS_AFTER = re.compile(r",?\s+(?:ph\.?d\.?|b\.?sc\.?|m\.?sc\.?|m\.?b\.?e\.?|f\.?r\.?e\.?s\.?|esq\.?)$", re.I)
_NOBODY = re.compile(
    r"(?:anon(?:ymous)?\.?|unknown|unk\.?|not known|not given|none|nil|n/?a|nan|null|various"
    r"|various recorders|several|many"
    r"|public|member of (?:the )?public|the public|recorder unknown|unknown recorder|no name|withheld|\?+|-+|\.+)",
    re.I,
)
_DETERMINER = re.compile(
    r"[\s,;(]*\b(?:det\b|determiner\b|determined by\b|id(?:entified)? by\b|conf\b|confirmed by\b|vid\b|ver\b"
    r"|verified by\b|teste\b)[.:]*\s*",
    re.I,
)
_SENDER = re.compile(r"[\s,;(]*\b(?:per|via|sent by|submitted by|passed on by|comm)\b[.:]*\s*", re.I)
_RECORDER = re.compile(
    r"^[\s(]*\b(?:leg|legit|coll|collected by|collector|recorded by|recorder|rec|obs|observer|by)\b[.:]+\s*",
    re.I,
)
_RECORDER_WORDS = re.compile(r"^\s*(?:collected by|recorded by|found by)\s+", re.I)
_OTHERS = re.compile(
    r"[\s,;]*(?:\bet al\b\.?|(?:\band|&|\+)\s*(?:\d+ )?(?:others?|friends?|family|party|members"
    r"|colleagues|children|wife|husband)\b.*)$",
    re.I,
)
_BODY = re.compile(
    r"\b(?:group|society|trust|committee|centre|center|survey|surveys|club|council|museum|university|school|college|"
    r"association|agency|service|partnership|consultants?|consulting|ltd|limited|institute|department"
    r"|dept|nhs|project|team|forum|network|"
    r"federation|union|records?|recorders|wardens?|rangers?|volunteers|staff|reserve|park|heritage"
    r"|conservation|ecology|atlas|"
    r"scheme|naturalists|organisation|commission|branch|company|students?|class|meeting|outing|walk|bioblitz|census)\b",
    re.I,
)
_ADDRESS = re.compile(r"\s*[<(]?[^\s<>()@]+@[^\s<>()@]+\.[^\s<>()@]+[>)]?")
_INITIALS = r"(?:[^\W\d_]\.?[\s-]?){1,4}"
_UPPER = r"[^\W\d_a-zà-öø-ÿ]"
_IS_INITIALS = re.compile(rf"(?:{_UPPER}\.?[\s-]?){{1,4}}|{_UPPER}{{1,4}}")
_PARTICLES = {
    "de",
    "la",
    "du",
    "van",
    "von",
    "der",
    "den",
    "le",
    "di",
    "da",
    "del",
    "ter",
    "ten",
    "st",
    "st.",
    "mac",
    "o'",
}
_COUPLE = re.compile(r"\b(?:mr|dr)\.?\s*(?:&|\+|and)\s*(?:mrs|ms|dr)\b\.?\s*", re.I)
_JOINERS = re.compile(r"\s*(?:&|\+|/|\band\b|\bwith\b|\bet\b)\s*", re.I)
#: Letters of a cell that are looked at.
_LONGEST = 2000
#: ``A. Marsh``, ``A. B. Marsh & C. Holt``: how most cells are written.
_PLAIN = re.compile(r"(?:[A-Z]\. ){1,3}[A-Z][a-z]+(?: & (?:[A-Z]\. ){1,3}[A-Z][a-z]+)*")


class Person(NamedTuple):
    """A person as written: surname, and forenames or initials in their order; a body or nickname has only a surname."""

    surname: str
    given: tuple[str, ...] = ()
    is_body: bool = False

    @property
    def written(self) -> str:
        """Given names, initials with a full stop, then the surname."""
        given = [part if len(part) > 1 else f"{part}." for part in self.given]
        return " ".join([*given, self.surname])


class Cell(NamedTuple):
    """What a cell says: recorders, whether more people took part, who named the species, through whom it came."""

    people: tuple[Person, ...]
    others: bool
    determiner: str
    sender: str


def text_to_cell(text: str) -> Cell:
    """Take a cell of recorders apart.

    Parameters
    ----------
    text
        Anything.

    Examples
    --------
    >>> [person.written for person in text_to_cell("Marsh, A.; Holt, B.").people]
    ['A. Marsh', 'B. Holt']
    >>> cell = text_to_cell("Dr A.J. Marsh & Betty Holt det. C. Dee")
    >>> [person.written for person in cell.people], cell.determiner
    (['A. J. Marsh', 'Betty Holt'], 'C. Dee')
    >>> text_to_cell("Anon").people
    ()
    """
    return _plain_cell(str(text)) or _any_cell(text)


def _plain_cell(text: str) -> Cell | None:
    """A cell of initials and ordinary surnames joined by ``&``, at once; None for all others."""
    if len(text) > _LONGEST or _PLAIN.fullmatch(text) is None:
        return None
    people: dict[Person, None] = {}
    for part in text.split(" & "):
        *initials, surname = part.replace(".", "").split(" ")
        if not _is_ordinary(surname):
            return None
        people[Person(surname, tuple(initials))] = None
    return Cell(tuple(people), False, "", "")


@lru_cache(maxsize=65_536)
def _is_ordinary(surname: str) -> bool:
    """Whether a surname says nothing but itself, as a title or the word for a society would."""
    return _any_cell(f"X. {surname}") == Cell((Person(surname, ("X",)),), False, "", "")


def _any_cell(text: str) -> Cell:
    plain = unicodedata.normalize("NFKC", with_characters(str(text)[:_LONGEST])).replace("\0", " ").replace("’", "'")
    plain = " ".join(_ADDRESS.sub("", plain).split()).strip(' "`;,*:')
    plain, determiner = _cut(_DETERMINER, plain)
    plain, sender = _cut(_SENDER, plain)
    if not sender and _SENDER.search(determiner):
        determiner, sender = _cut(_SENDER, determiner)
    if re.search(r"\w.*\(", plain):
        plain = re.sub(r"\s*\([^()]*\)?", "", plain)
    plain = _RECORDER_WORDS.sub("", _RECORDER.sub("", plain)).strip(" ()")
    alone, others = _OTHERS.sub("", plain), False
    if alone != plain and (alone.strip() or plain.lower().startswith("et al")):
        plain, others = alone, True
    couple = _COUPLE.sub("", plain)
    plain, others = couple, others or couple != plain
    people: dict[Person, None] = {}
    for part in _parts(plain):
        person = part_to_person(part)
        if person is not None:
            people[person] = None
    return Cell(tuple(people), others, _names_only(determiner), _names_only(sender))


def _cut(pattern: re.Pattern[str], text: str) -> tuple[str, str]:
    match = pattern.search(text)
    if match is None:
        return text, ""
    return text[: match.start()].strip(" ,;("), text[match.end() :].strip(" ,;).")


def _names_only(text: str) -> str:
    people = [person for person in map(part_to_person, _parts(text)) if person is not None]
    return "; ".join(person.written for person in people)


def _parts(text: str) -> list[str]:
    """One part a person: cut at semicolons and joining words, and at commas where they do not part a surname."""
    if not text:
        return []
    found: list[str] = []
    for piece in re.split(r"\s*[;|\n]\s*", text):
        if _BODY.search(piece) and not _starts_with_person(piece):
            found.append(piece)
            continue
        found += _shared_surnames(_commas_apart(_JOINERS.split(piece)))
    return [part.strip() for part in found if part.strip(" .,-")]


def _starts_with_person(piece: str) -> bool:
    first = _JOINERS.split(piece)[0].strip()
    return first != piece and not _BODY.search(first) and re.match(rf"(?:{_UPPER}\.\s?)+\s*\w", first) is not None


def _commas_apart(pieces: list[str]) -> list[str]:
    """``Marsh, A., Holt, B.`` and ``A. Marsh, B. Holt`` are two, ``Marsh, A.`` one, ``Marsh, Holt & Dee`` three."""
    has_bare_surname = any(re.fullmatch(r"[^\s,.]{2,}", piece.strip()) for piece in pieces)
    found: list[str] = []
    for piece in pieces:
        words = [word.strip() for word in piece.split(",") if word.strip()]
        place = 0
        while place < len(words):
            word = words[place]
            following = words[place + 1] if place + 1 < len(words) else ""
            given = _TITLE.sub("", following).strip()
            is_double = "." not in word and following.endswith(".")  # as in García López, M.
            is_surname = not re.search(r"\s", word) or _has_particle(word) or word.isupper() or is_double
            is_given = _IS_INITIALS.fullmatch(given) is not None or (
                len(words) == 2 and not has_bare_surname and given != "" and not re.search(r"[.\s]\S{3,}", given)
            )
            if following and is_surname and is_given and not _IS_INITIALS.fullmatch(word):
                found.append(f"{word}, {following}")
                place += 2
            else:
                found.append(word)
                place += 1
    return found


def _has_particle(word: str) -> bool:
    return word.split()[0].lower() in _PARTICLES


def _shared_surnames(parts: list[str]) -> list[str]:
    """``A. & B. Holt`` and ``Mr & Mrs J. Holt`` are two people with one surname."""
    found = list(parts)
    for place in range(len(found) - 2, -1, -1):
        bare = _TITLE.sub("", found[place]).strip()
        following = part_to_person(found[place + 1])
        if following is None or following.is_body:
            continue
        if not bare and _TITLE.match(found[place] + " "):
            found[place] = f"{found[place]} {following.written}"
        elif _IS_INITIALS.fullmatch(bare) and len(bare.replace(".", "").replace(" ", "")) <= 2 and following.given:
            found[place] = f"{bare} {following.surname}"
    return found


@lru_cache(maxsize=65_536)
def part_to_person(part: str) -> Person | None:
    """One person or body; None when nobody is named.

    Examples
    --------
    >>> part_to_person("MARSH A J").written, part_to_person("van der Berg, Kees").written
    ('A. J. Marsh', 'Kees van der Berg')
    >>> part_to_person("Island Recording Group").is_body
    True
    """
    plain = " ".join(part.split()).strip(' ,;:()[]"')
    if not plain or _NOBODY.fullmatch(plain) or not any(map(str.isalpha, plain)):
        return None
    if _BODY.search(plain) or "@" in plain or len(plain.split()) > 6 or any(map(str.isdigit, plain)):
        return Person(plain, (), True)
    title = _TITLE.match(plain + " ")
    plain = _LETTERS_AFTER.sub("", _TITLE.sub("", plain + " ").strip()).strip(" ,")
    if not plain:
        return None
    surname, comma, given = (piece.strip() for piece in plain.partition(","))
    if not comma:
        surname, given = _surname_and_given(plain)
    if not surname:
        surname, given = given, ""
    is_mixed = not surname.isupper()
    names = _given_names(given, as_written=is_mixed and " " not in given)
    if not names and title and title[0].strip().rstrip(".").lower() in ("mr", "mrs", "miss", "ms"):
        return Person(f"{title[0].strip().rstrip('.').capitalize()} {_cased(surname)}")
    if not names and " " not in surname and surname.isupper():
        return Person(surname)
    return Person(_cased(surname) if len(surname) > 3 or not names else _cased(surname.capitalize()), names)


def _surname_and_given(plain: str) -> tuple[str, str]:
    tokens = re.sub(r"(?<=[^\W\d_]\.)(?=[^\W\d_]{2})", " ", plain).split()
    if len(tokens) == 1:
        return tokens[0], ""
    last_is_initials = _IS_INITIALS.fullmatch(tokens[-1]) is not None and len(tokens[-1].replace(".", "")) <= 3
    first_is_initials = _IS_INITIALS.fullmatch(tokens[0]) is not None and len(tokens[0].replace(".", "")) <= 3
    if last_is_initials and not first_is_initials:
        place = len(tokens)
        while place > 1 and _IS_INITIALS.fullmatch(tokens[place - 1]) and len(tokens[place - 1].replace(".", "")) <= 3:
            place -= 1
        return " ".join(tokens[:place]), " ".join(tokens[place:])
    place = len(tokens) - 1
    while place > 1 and tokens[place - 1].lower() in _PARTICLES:
        place -= 1
    return " ".join(tokens[place:]), " ".join(tokens[:place])


def _given_names(given: str, *, as_written: bool = False) -> tuple[str, ...]:
    """Forenames and initials; a single shouted word before a name that is not shouted is an acronym, left as it is."""
    if as_written and len(given) > 3 and given.isalpha() and given.isupper():
        return (given,)
    names: list[str] = []
    for token in re.sub(
        r"(?<=\b[^\W\d_])[.]?-(?=[^\W\d_]\b)", " ", re.sub(r"\.", ". ", given).replace(". -", " ")
    ).split():
        bare = token.strip(".,")
        if not bare:
            continue
        is_run = bare.isupper() and (len(bare) == 2 or (len(bare) == 3 and not re.search(r"[AEIOUY]", bare[1:])))
        if len(bare) == 1 or is_run:
            names += [letter.upper() for letter in bare]
        else:
            names.append(_cased(bare))
    return tuple(names)


def _cased(word: str) -> str:
    """Names shouted or whispered in the usual case; others as written."""
    is_acronym = word.isupper() and (len(word) <= 3 or not re.search(r"[AEIOUYÀ-Ý]", word))
    if not (word.isupper() or word.islower()) or len(word) == 1 or is_acronym:
        return word
    parts = []
    for part in word.lower().split():
        if part in _PARTICLES and len(word.split()) > 1:
            parts.append(part)
            continue
        cased = re.sub(r"(^|[-'])([^\W\d_])", lambda found: found[1] + found[2].upper(), part)
        parts.append(re.sub(r"^Mc([a-z])", lambda found: f"Mc{found[1].upper()}", cased))
    return " ".join(parts)
