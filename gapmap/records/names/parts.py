"""One species name as people write it → its parts: the name it is counted under, its rank, how sure it is."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from gapmap.records.characters import with_characters

_WORD = r"[^\W\d_]"
#: Marks that may stand around a name.
_AROUND = ' "`,;:*“”„«»'
_DOUBT = re.compile(r"(?:\?|\b(?:cf|aff|nr|possibly|poss|probably|prob|maybe|uncertain|auctt?)\b\.?)", re.IGNORECASE)
_AGGREGATE = re.compile(
    r"\s*\(?\b(?:agg\b\.?|aggregate|s\.\s?l\.?|sens\.\s?lat\.?|sensu lato|s\.\s?lat\.?|species complex|complex|"
    r"species group|group|gp\.|grp\.)\)?\s*$",
    re.IGNORECASE,
)
_STRICT = re.compile(
    r"\s*\(?\b(?:s\.\s?str\.?|sens\.\s?str\.?|sensu stricto|s\.\s?s\.|seg\b\.?|segregate)\)?\s*$",
    re.IGNORECASE,
)
_ONLY_GENUS = re.compile(
    r"\s+\(?(?:spp?\b\.?|species|indet\b\.?|indeterminate|unidentified|undet\.?)(?:\s*(?:\d{1,3}|[A-Z]))?\)?\s*$",
    re.IGNORECASE,
)
#: ``unidentified woodlouse``: whatever follows is no more than a group.
_UNNAMED = re.compile(r"^(?:unknown|unidentified|undetermined|unid\.?|indet\.?|undet\.?)\s+", re.IGNORECASE)
_STAGE = re.compile(
    r"\s*[\[(](?:larvae?|pupae?|eggs?|ova|nymphs?|juv\.?|juveniles?|imm\.?|immatures?|adults?|imago"
    r"|males?|females?|m|f|"
    r"workers?|queens?|drones?|[♂♀]|exuviae?|tadpoles?|spawn|galls?|mines?|dead)[\])]\s*$"
    r"|\s+(?:larvae?|pupae?|nymphs?|juv\.|imm\.|[♂♀]+)\s*$",
    re.IGNORECASE,
)
#: ``Salix hybrid``: of which parents is not said, or not in full.
_HYBRID = re.compile(r"\b(?:hybrids?|hybr?\.)\)?$", re.IGNORECASE)
_CULTIVAR = re.compile(r"\s+(?:'[^']+'|cv\.? \S+)\s*$")
_NOBODY = re.compile(
    r"(?:unknown|unidentified|unid\.?|indet\.?|none|nil|nothing|absent|n/a|not identified|\?+|-+|\.+|nan|null"
    r"|(?:none|nil|nothing|not|zero) (?:found|seen|noted|recorded|observed|present|caught)|no [a-z]+(?: [a-z]+){0,2}"
    r"|tb[cdi]|(?:to be|not yet) (?:identified|determined|confirmed)|(?:awaiting|pending) (?:id\.?|[a-z]+ation)"
    r"|(?:grand |sub-?)?totals?\b.*|sum:?|average:?|mean:?|as above|ditto"
    r"|#[\w/]+[!?]?|#+|species|sp\.?|spp\.?|[=@+]\w+\(.*|\S*https?://.*)",
    re.IGNORECASE,
)
_CROSS = re.compile(r"(?:(?<=\s)[xX](?=\s)|^[xX](?=\s+[A-Z])|×)\s*")
_GENUS = re.compile(rf"(?:[A-Z]{_WORD}+|[A-Z]\.)")
#: A genus written as its first letter, the point if there is one, and the word behind it.
_INITIAL = re.compile(r"([A-Z])(?:(\.)\s*|\s+)(?=([a-z][a-z-]+)(?:[\s,;]|$))")
_EPITHET = re.compile(rf"(?:(?:\d{{1,2}}|{_WORD})-)?{_WORD}{{2,}}(?:-{_WORD}+)*")
_SUBGENUS = re.compile(rf"\([A-Z]{_WORD}+\)")
_MARKER = re.compile(r"(?:subsp|ssp|subspecies|var|variety|f|fo|forma?|ab|morph|nothosubsp|race)\.?", re.IGNORECASE)
_NOT_EPITHETS = {
    "and", "et", "ex", "in", "de", "del", "della", "di", "da", "du", "von", "van", "der", "den", "auct", "nec", "non",
    "sensu", "the", "or", "with", "on", "from", "not", "leg", "det", "emend", "ter", "le", "la",
}  # fmt: skip
#: A name in capitals, or without any, before an authority in the usual case.
_SHOUTED = re.compile(r"[A-ZÀ-Þ]{3,} [A-ZÀ-Þ-]{2,}(?=\s+\(?[A-Z][a-z.])")
_WHISPERED = re.compile(r"[a-z]{3,} [a-z-]{2,}\s+(?:L\.|\([A-Z][\w. &]+[,)]|[A-Z][\w.& ]+,?\s+\d{4})")
_FAMILY = re.compile(r"[A-Z][a-z]+(?:idae|inae|aceae|oidea|ales|ptera|opoda|poda|ini)")


#: ``Bombus terrestris or B. lucorum``: one of two species of a genus.
_EITHER = re.compile(r"([A-Z][a-z]+) ([a-z][a-z-]+)\s*(?:/|\bor\b)\s*(?:(?:\1|[A-Z]\.)\s*)?([a-z][a-z-]{2,})")
#: A number or a mark of a list before a name, and brackets around it.
_LIST_MARK = re.compile(r"^(?:\d{1,3}[.)]|[-–•·])\s+")
_BRACKETED = re.compile(r"^[\[(]([^\[\]()]+)[\])]$")
#: ``Peacock (Aglais io)`` and ``Peacock - Aglais io``: the scientific name beside an everyday one.
_BESIDE = re.compile(rf"^([^()]+?)\s*(?:\(([A-Z]{_WORD}+ [a-z][a-z-]+)\)|\s[-–]\s([A-Z]{_WORD}+ [a-z][a-z-]+))$")
_BETWEEN = r"(?:[,;&+/\n]|\band\b|\bor\b)"
_SEVERAL = re.compile(
    rf"[A-Z]{_WORD}+ ([a-z][a-z-]+)\b.*?\s*{_BETWEEN}\s*[A-Z](?:{_WORD}+|\.) ([a-z][a-z-]+)"
    rf"(?=\s*(?:$|\(|[A-Z]|{_BETWEEN}))",
    re.DOTALL,
)


#: Ends of epithets; of those in -er only such as hardly end an English word (not ``copper``, ``tiger``, ``hawker``).
_LATIN_END = re.compile(
    r"(?:us|a|um|is|re|ale|ile|nse|ste|i|ae|ii|ensis|ns|or|x|as|es|os|on|ele|ene|yne|[au]ber|acer|(?<!t)iger|asper|ulcher|vester)$"
)


class Name(NamedTuple):
    """What a text names.

    ``name`` is how it is written in lists, ``species`` the species it belongs to (empty when it states none),
    ``rank`` one of species, subspecies, aggregate, hybrid, either, genus, subgenus, group, everyday, none;
    ``doubt`` is "" (sure), "species" (genus sure, species not) or "all" (nothing sure); ``full`` is the text
    as looked up whole.
    """

    name: str
    species: str
    rank: str
    doubt: str
    full: str
    genus: str
    staged: bool = False


def text_to_name(text: str) -> Name:
    """Take a species name apart.

    Parameters
    ----------
    text
        Anything.

    Examples
    --------
    >>> text_to_name("Bombus (Pyrobombus) pratorum (Linnaeus, 1761)").name
    'Bombus pratorum'
    >>> text_to_name("cochlicopa CF. lubrica")[:4]
    ('Cochlicopa', '', 'genus', 'species')
    >>> text_to_name("Rubus fruticosus agg.")[:3]
    ('Rubus fruticosus agg.', 'Rubus fruticosus', 'aggregate')
    >>> text_to_name("Mentha x piperita L.")[:3]
    ('Mentha × piperita', '', 'hybrid')
    >>> text_to_name("Seven-spot Ladybird")[:3]
    ('Seven-spot Ladybird', '', 'everyday')
    >>> text_to_name("").rank
    'none'
    """
    full = _scientific_beside(_EITHER.sub(r"\1 \2/\3", _tidied(text)))
    if not full or _NOBODY.fullmatch(full) or not re.search(_WORD, full) or names_several(_EITHER.sub("", text)):
        return Name("", "", "none", "", full, "")
    left, staged = _without(_STAGE, full)
    doubt, left = _doubt(left)
    left, is_strict = _without(_STRICT, left)
    left, is_aggregate = _without(_AGGREGATE, left)
    left, is_unnamed = _without(_UNNAMED, left)
    left, is_only_genus = _without(_ONLY_GENUS, left)
    left, _ = _without(_CULTIVAR, left)
    left = _cased(left)
    if not re.search(_WORD, left):
        return Name("", "", "none", doubt, full, "")
    if "×" in left:
        return _hybrid(left, doubt, full)._replace(staged=staged)
    if _HYBRID.search(left):
        genus = left.split()[0] if _GENUS.fullmatch(left.split()[0]) else ""
        return _doubted(Name(left, "", "formula", "", full, genus), doubt)._replace(staged=staged)
    name = _plain_name(left, full, strict=is_strict)
    if is_only_genus and name.rank not in ("species", "subspecies"):
        name = name._replace(rank="genus", name=name.genus or name.name, species="")
    if is_unnamed and name.rank != "genus":
        name = name._replace(rank="group", species="")
    if is_aggregate:
        name = name._replace(name=f"{name.species or name.name} agg.", rank="aggregate")
    return _doubted(name, doubt)._replace(staged=staged)


def names_several(text: str) -> bool:
    """Whether a cell names more than one species; a scientific name beside an everyday one is no more than one.

    Examples
    --------
    >>> names_several("Aglais io, Pieris rapae"), names_several("Vanessa cardui, Painted lady")
    (True, False)
    """
    found = _SEVERAL.search(str(text)[:500])
    return found is not None and all(_is_epithet(word) and _is_latin(word) for word in found.groups())


def _tidied(text: str) -> str:
    plain = unicodedata.normalize("NFKC", with_characters(str(text)[:500])).replace("\0", " ")
    plain = plain.replace("’", "'").replace("‘", "'").replace("\u2013", "-").replace("\u2010", "-").replace("✕", "×")
    if " " not in plain.strip():
        plain = plain.replace("_", " ")
    bare = _LIST_MARK.sub("", " ".join(plain.split()).strip(_AROUND)).strip(_AROUND)
    return _BRACKETED.sub(r"\1", bare)


def _scientific_beside(full: str) -> str:
    """The scientific name of a cell that gives an everyday name before it."""
    found = _BESIDE.match(full)
    if found is None:
        return full
    scientific = found[2] or found[3]
    before = found[1].split()
    is_everyday = len(before) < 2 or not (_is_epithet(before[1]) and _is_latin(before[1]))
    return scientific if is_everyday and _is_latin(scientific.split()[1]) else full


def _is_latin(word: str) -> bool:
    return _looks_latin(word) or word.endswith("o")


def _without(pattern: re.Pattern[str], text: str) -> tuple[str, bool]:
    left = pattern.sub("", text).strip(" ,;-–")
    return (left, left != text) if left else (text, False)


def _doubt(text: str) -> tuple[str, str]:
    match = _DOUBT.search(text)
    if match is None:
        return "", text
    before = text[: match.start()].strip(" (")
    return ("species" if before else "all"), " ".join(_DOUBT.sub(" ", text).replace("()", " ").split()).strip(" ,;")


def _cased(text: str) -> str:
    """Crosses made one, and names shouted or whispered brought to the usual case."""
    crossed = " ".join(_CROSS.sub("× ", text).split())
    letters = [letter for letter in crossed if letter.isalpha()]
    if letters and (all(map(str.isupper, letters)) or all(map(str.islower, letters))):
        lowered = crossed.lower()
        return re.sub(_WORD, lambda first: first[0].upper(), lowered, count=1)
    if shouted := _SHOUTED.match(crossed):
        return shouted[0].capitalize() + crossed[shouted.end() :]
    return crossed[:1].upper() + crossed[1:] if _WHISPERED.match(crossed) else crossed


def _plain_name(text: str, full: str, *, strict: bool) -> Name:
    text = _with_point(text)
    tokens = text.split()
    genus, rest = tokens[0], tokens[1:]
    if rest and _is_latin(rest[0].rstrip(",;")):
        rest[0] = rest[0].rstrip(",;")  # before an authority or an everyday name
    if not _GENUS.fullmatch(genus):
        return Name(text, "", "everyday", "", full, "")
    is_subgenus = bool(rest and _SUBGENUS.fullmatch(rest[0]))
    if is_subgenus and (len(rest) == 1 or _is_epithet(rest[1])):
        if len(rest) == 1:
            return Name(f"{genus} {rest[0]}", "", "subgenus", "", full, genus)
        rest = rest[1:]
    if not rest:
        return Name(genus, "", "group" if _FAMILY.fullmatch(genus) else "genus", "", full, genus)
    if "/" in rest[0] and all(_EPITHET.fullmatch(part) for part in rest[0].split("/")):
        return Name(f"{genus} {rest[0].lower()}", "", "either", "", full, genus)
    if not _is_epithet(rest[0]):
        has_author = re.search(r"\d{4}|\(|&|\.$", " ".join(rest)) is not None
        return Name(genus, "", "genus", "", full, genus) if has_author else Name(text, "", "everyday", "", full, genus)
    species = f"{genus} {rest[0]}"
    below = _below(rest[1:])
    if below is None:
        return Name(species, species, "species", "", full, genus)
    has_author = _is_latin(rest[0]) and re.search(r"[A-Z(]", " ".join(rest[1:])) is not None
    if not below[1] and not has_author and not _looks_latin(below[0]):
        return Name(text, "", "everyday", "", full, genus)
    return Name(f"{species} {below[0]}", species, "species" if strict else "subspecies", "", full, genus)


def _with_point(text: str) -> str:
    """``B terrestris`` and ``B.terrestris`` written as ``B. terrestris``."""
    initial = _INITIAL.match(text)
    return f"{initial[1]}. {text[initial.end() :]}" if initial and (initial[2] or _looks_latin(initial[3])) else text


def _looks_latin(word: str) -> bool:
    return _LATIN_END.search(word) is not None


def _is_epithet(token: str) -> bool:
    return _EPITHET.fullmatch(token) is not None and token == token.lower() and token not in _NOT_EPITHETS


def _below(tokens: list[str]) -> tuple[str, bool] | None:
    """The name below the species, if there is one, and whether a marker such as var. stands before it."""
    for place, token in enumerate(tokens):
        if _MARKER.fullmatch(token) and place + 1 < len(tokens) and _is_epithet(tokens[place + 1]):
            return tokens[place + 1], True
    if tokens and _is_epithet(tokens[0]):
        return tokens[0], False
    return None


def _hybrid(text: str, doubt: str, full: str) -> Name:
    """A named hybrid keeps its name, a formula its parents; the name after an equals sign wins."""
    left, equals, right = (part.strip() for part in text.partition("="))
    genus = next((token for token in left.split() if _GENUS.fullmatch(token)), "")
    if equals and "×" in right:
        named = right.replace("×", "").split()
        if len(named) >= 2 and named[0].endswith(".") and genus.startswith(named[0][0]):
            return _doubted(Name(f"{genus} × {named[1]}", "", "hybrid", "", full, genus), doubt)
        if len(named) >= 2:
            return _doubted(Name(f"× {named[0]} {named[1]}", "", "hybrid", "", full, named[0]), doubt)
    left = left if re.search(_WORD, left) else right
    tokens = left.split()
    if tokens[0] == "×" and len(tokens) >= 3:
        return _doubted(Name(" ".join(tokens[:3]), "", "hybrid", "", full, tokens[1]), doubt)
    if len(tokens) >= 3 and tokens[1] == "×" and _is_epithet(tokens[2]):
        return _doubted(Name(f"{genus} × {tokens[2]}", "", "hybrid", "", full, genus), doubt)
    parents = [" ".join(part.split()) for part in left.split("×") if part.strip()]
    return _doubted(Name(" × ".join(parents), "", "formula", "", full, genus), doubt)


def _doubted(name: Name, doubt: str) -> Name:
    """A doubtful name at the level it can bear: its genus, or nothing but the doubt itself."""
    if not doubt or name.rank == "none":
        return name
    if (
        doubt == "species"
        and name.genus
        and name.rank in ("species", "subspecies", "aggregate", "hybrid", "formula", "either")
    ):
        return name._replace(name=name.genus, species="", rank="genus", doubt="species")
    return name._replace(name=f"{name.name}?", species="", rank="doubtful", doubt="all")
