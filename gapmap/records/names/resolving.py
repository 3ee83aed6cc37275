"""Whole columns of species names → the names they are counted under, with or without a checklist."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd
from rapidfuzz import process
from rapidfuzz.distance import OSA

from gapmap.records.names.abbreviated import full_names, spelt_out
from gapmap.records.names.alike import names_alike
from gapmap.records.names.checklist import CHECKLIST_COLUMNS, SENSITIVE_SIDE_M, read_checklist, split_names
from gapmap.records.names.parts import Name, names_several, text_to_name
from gapmap.records.verdicts import DOUBT, FINE, NOT_A_RECORD, NOTE, Verdict, quoted, verdicts_to_frame

__all__ = ["CHECKLIST_COLUMNS", "SENSITIVE_SIDE_M", "read_checklist", "resolve_names"]

_FACTS = ("vernacular", "group", "difficulty", "months", "time_of_day")
_COUNTED = {"species", "subspecies", "aggregate", "hybrid", "everyday", ""}
_ALIKE_ENOUGH = 0.8


@dataclass(frozen=True)
class _Answer:
    name: str
    rank: str
    counts: bool
    verdict: Verdict
    row: int = -1


def resolve_names(
    texts: Sequence[str], checklist: pd.DataFrame | None, counts: Sequence[int] | None = None
) -> pd.DataFrame:
    """Find the name that each text is counted under; meant for the distinct names of all files together.

    With a checklist a name is found as it stands, without its authority or subgenus, by a synonym or by an
    everyday name; a near spelling is only suggested. A listed subspecies is counted under its species where that is
    listed too; one more sensitive is kept apart and does not count. Without a checklist the names found
    are the list, names spelt almost alike are shown, and an initial for a genus is taken for the one full name that
    it fits. A name with cf., a question mark or no species is kept at the level it can bear and does not count.

    Parameters
    ----------
    texts
        Any texts.
    checklist
        As `read_checklist` gives it, or None.
    counts
        How often each text stands in the files. With it, only the rarer one of two names spelt almost alike is shown
        when the other is at least three times as frequent; without it, both are.

    Returns
    -------
    DataFrame
        One row a text, in their order: ``name`` (empty when none), ``vernacular``, ``group``, ``rank``,
        ``counts`` (true when it counts as a species of its own), ``difficulty``, ``months``, ``time_of_day``,
        ``sensitive_m`` (metres), and the verdict ``code``, ``severity``, ``sentence``, ``suggestion``. Never
        raises.

    Examples
    --------
    >>> found = resolve_names(["Aglais io", "Aglais io (Linnaeus, 1758)", "Aglais cf. io", ""], None)
    >>> found[["name", "counts"]].values.tolist()
    [['Aglais io', True], ['Aglais io', True], ['Aglais', False], ['', False]]
    >>> resolve_names([], None).columns.tolist()[:4]
    ['name', 'vernacular', 'group', 'rank']
    """
    names = [text_to_name("" if text is None or text != text else str(text)) for text in texts]
    listed = [str(text) for text in texts]
    if checklist is None or not len(checklist):
        answers = _without_checklist(listed, names, counts)
    else:
        answers = _with_checklist(listed, names, checklist)
    return _frame(answers, checklist)


def _frame(answers: list[_Answer], checklist: pd.DataFrame | None) -> pd.DataFrame:
    found = pd.DataFrame({"name": pd.Series([answer.name for answer in answers], dtype="str")})
    rows = [answer.row for answer in answers]
    for fact in ("vernacular", "group"):
        found[fact] = _fact(checklist, fact, rows)
    found["rank"] = pd.Series([answer.rank for answer in answers], dtype="str")
    found["counts"] = pd.Series([answer.counts for answer in answers], dtype="bool")
    for fact in ("difficulty", "months", "time_of_day"):
        found[fact] = _fact(checklist, fact, rows)
    sensitive = [0] * len(rows)
    if checklist is not None and len(checklist):
        metres = [int(value) for value in checklist["sensitive_m"]]
        sensitive = [metres[row] if row >= 0 else 0 for row in rows]
    found["sensitive_m"] = pd.Series(sensitive, dtype="int64")
    return pd.concat([found, verdicts_to_frame([answer.verdict for answer in answers])], axis=1)


def _fact(checklist: pd.DataFrame | None, fact: str, rows: list[int]) -> pd.Series:
    if checklist is None or not len(checklist):
        return pd.Series([""] * len(rows), dtype="str")
    values = [str(value) for value in checklist[fact]]
    return pd.Series([values[row] if row >= 0 else "" for row in rows], dtype="str")


# ---- without a checklist


def _without_checklist(texts: list[str], names: list[Name], counts: Sequence[int] | None) -> list[_Answer]:
    fitting = full_names(names)
    names = [spelt_out(name, full[0]) if len(full) == 1 else name for name, full in zip(names, fitting, strict=True)]
    genera = {name.genus for name in names if name.rank in ("species", "subspecies", "aggregate") and name.species}
    binomial = sum(name.rank in ("species", "subspecies") for name in names)
    single = sum(name.rank == "genus" and not name.doubt for name in names)
    mostly_scientific = binomial > single
    species = {name.species.casefold() for name in names if name.rank in ("species", "subspecies")}
    shown = _one_spelling(names)
    alike = names_alike(
        [shown[name.name.casefold()] for name in names if name.rank in ("species", "everyday") and name.name]
    )
    frequency: dict[str, int] = defaultdict(int)
    for name, count in zip(names, counts if counts is not None else [], strict=False):
        frequency[name.name.casefold()] += int(count)
    answers = []
    for text, name, full in zip(texts, names, fitting, strict=True):
        is_word = name.rank == "genus" and not name.doubt and name.genus not in genera
        if is_word and not mostly_scientific and " " not in name.full:
            name = name._replace(rank="everyday")
        answer = _of_abbreviated(text, _answer_by_itself(text, name, species), full)
        own = frequency[answer.name.casefold()]
        others = [other for other in alike.get(answer.name, []) if not own or own < 3 * frequency[other.casefold()]]
        if others and answer.verdict == FINE:
            answer = _Answer(
                answer.name,
                answer.rank,
                answer.counts,
                Verdict(
                    "names alike",
                    NOTE,
                    f"The name {quoted(text)} is spelt almost like {' and '.join(others)}.",
                    f"{others[0]}, if that was meant",
                ),
            )
        shown_name = shown.get(answer.name.casefold(), answer.name)
        answers.append(_Answer(shown_name, answer.rank, answer.counts, answer.verdict))
    return answers


def _one_spelling(names: list[Name]) -> dict[str, str]:
    """One way of writing, upper and lower case, for names that differ in nothing else."""
    shown: dict[str, str] = {}
    for name in names:
        for written in (name.name, name.species):
            key = written.casefold()
            if written and (key not in shown or written > shown[key]):
                shown[key] = written
    return shown


def _answer_by_itself(text: str, name: Name, species: set[str]) -> _Answer:
    if name.rank == "subspecies":
        below = name.name.removeprefix(name.species).strip()
        verdict = FINE if name.species.endswith(f" {below}") else _counted_under(text, name.species)
        return _Answer(name.species, "species", True, verdict)
    if name.rank == "aggregate":
        holds_listed = name.species.casefold() in species if name.species else False
        return _Answer(name.name, "aggregate", not holds_listed and name.rank == "aggregate", FINE)
    if name.rank in ("species", "everyday", "hybrid"):
        return _Answer(name.name, "species" if name.rank == "everyday" else name.rank, True, FINE)
    return _at_its_level(text, name)


def _of_abbreviated(text: str, answer: _Answer, full: tuple[str, ...]) -> _Answer:
    """An answer with what an initial for the genus makes of it: taken for one full name, or left open among several."""
    if not full:
        return answer
    if len(full) > 1:
        sentence = (
            f"The name {quoted(text)} can stand for {' or '.join(full)}; it is kept as {answer.name} and does not "
            "count as a species."
        )
        verdict = Verdict("abbreviated", NOTE, sentence, f"{' or '.join(full)}, whichever was meant")
        return replace(answer, counts=False, verdict=verdict)
    verdict = Verdict("abbreviated", NOTE, f"The name {quoted(text)} is taken for {answer.name}.")
    return replace(answer, verdict=verdict) if answer.verdict == FINE else answer


def _at_its_level(text: str, name: Name) -> _Answer:
    """Names that do not count as a species: kept, with the reason."""
    if name.rank == "none":
        return _Answer("", "", False, _names_none(text))
    reasons = {
        "genus": "names a genus only",
        "subgenus": "names a subgenus only",
        "group": "names a group only",
        "either": "leaves open which of two species it is",
        "formula": "is a hybrid without a name of its own",
        "doubtful": "is uncertain",
    }
    reason = "is uncertain" if name.doubt else reasons.get(name.rank, "is no species")
    sentence = f"The name {quoted(text)} {reason}; it is kept as {name.name} and does not count as a species."
    code = "uncertain name" if name.doubt else "not a species"
    rank = {"either": "aggregate", "formula": "hybrid"}.get(name.rank, name.rank)
    return _Answer(name.name, rank, False, Verdict(code, NOTE, sentence))


def _names_none(text: str) -> Verdict:
    if names_several(text):
        words = f"The cell {quoted(text)} names more than one species."
        return Verdict("several species", NOT_A_RECORD, words, "give each its own row")
    words = f"The species is given as {quoted(text)}, which names none."
    words = words if text.strip() else "The record names no species."
    return Verdict("no species", NOT_A_RECORD, words, "the name, as far as it is known")


def _counted_under(text: str, species: str) -> Verdict:
    return Verdict("below species", NOTE, f"The name {quoted(text)} is counted under its species, {species}.")


# ---- with a checklist


class _Index:
    """A checklist by every way of writing its names."""

    def __init__(self, checklist: pd.DataFrame) -> None:
        self.names = [str(name) for name in checklist["name"]]
        self.ranks = [str(rank) for rank in checklist["rank"]]
        self.sensitive = [int(metres) for metres in checklist["sensitive_m"]]
        self.accepted: dict[str, set[int]] = defaultdict(set)
        self.synonyms: dict[str, set[int]] = defaultdict(set)
        self.everyday: dict[str, set[int]] = defaultdict(set)
        self.genera: dict[str, list[int]] = defaultdict(list)
        self.species: set[str] = set()
        columns = zip(self.names, checklist["synonyms"], checklist["vernacular"], strict=True)
        for row, (name, synonyms, vernacular) in enumerate(columns):
            parts = text_to_name(name)
            for key in {name.casefold(), parts.name.casefold()}:
                self.accepted[key].add(row)
            self.genera[parts.genus].append(row)
            if parts.rank == "species":
                self.species.add(parts.name.casefold())
            for synonym in split_names(synonyms):
                for key in {synonym.casefold(), text_to_name(synonym).name.casefold()}:
                    self.synonyms[key].add(row)
            for word in split_names(vernacular):
                self.everyday[_everyday_key(word)].add(row)
        self.spellings = sorted(
            {
                *self.names,
                *(s for cell in checklist["synonyms"] for s in split_names(cell)),
                *(s for cell in checklist["vernacular"] for s in split_names(cell)),
            }
        )
        self.lowered = [spelling.casefold() for spelling in self.spellings]

    def find(self, text: str) -> tuple[set[int], str]:
        """Rows that a text names, and how: as accepted, by a synonym, by an everyday name."""
        key = text.casefold()
        for index, how in ((self.accepted, "accepted"), (self.synonyms, "synonym")):
            if key in index:
                return index[key], how
        word = _everyday_key(text)
        return (self.everyday[word], "everyday") if word in self.everyday else (set(), "")


def _everyday_key(text: str) -> str:
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def _with_checklist(texts: list[str], names: list[Name], checklist: pd.DataFrame) -> list[_Answer]:
    index = _Index(checklist)
    answers: dict[str, _Answer] = {}
    for text, name in zip(texts, names, strict=True):
        if text not in answers:
            answers[text] = _look_up(text, name, index)
    return [answers[text] for text in texts]


def _look_up(text: str, name: Name, index: _Index) -> _Answer:
    if name.rank == "none":
        return _at_its_level(text, name)
    if name.doubt and name.full.casefold() in index.accepted:  # a list that says auct. itself
        return _found(text, index.accepted[name.full.casefold()], "accepted", index)
    if not name.doubt:
        for written in dict.fromkeys((name.full, name.name)):
            rows, how = index.find(written)
            if rows:
                return _found(text, rows, how, index)
        if name.species and name.rank in ("subspecies", "aggregate"):
            rows, how = index.find(name.species)
            if len(rows) == 1:
                return _above_or_below(text, name, min(rows), index)
        if name.rank == "everyday" or name.rank in ("species", "subspecies", "hybrid", "aggregate"):
            return _unlisted(text, name, index)
    members = index.genera.get(name.genus, []) if name.genus else []
    if name.rank in ("genus", "doubtful") and not members and not name.doubt:
        return _unlisted(text, name, index)
    return _at_its_level(text, name)


def _found(text: str, rows: set[int], how: str, index: _Index) -> _Answer:
    if len(rows) > 1:
        names = sorted(index.names[row] for row in rows)
        listed = " or ".join(names)
        return _Answer(
            "",
            "",
            False,
            Verdict(
                "name of several",
                NOT_A_RECORD,
                f"The name {quoted(text)} can mean {listed}.",
                f"{listed}, whichever was meant",
            ),
        )
    row = min(rows)
    name, rank = index.names[row], index.ranks[row]
    verdict = FINE
    if how == "synonym":
        verdict = Verdict("synonym", NOTE, f"The name {quoted(text)} is listed as {name} now.")
    own_species = text_to_name(name).species.casefold()
    is_beside_species = rank in ("aggregate", "subspecies") and own_species in index.species
    if rank == "subspecies" and is_beside_species:
        species = min(index.accepted[own_species])
        if index.sensitive[species] >= index.sensitive[row]:
            return _above_or_below(text, text_to_name(name), species, index)
    return _Answer(name, rank, rank in _COUNTED and not is_beside_species, verdict, row)


def _above_or_below(text: str, name: Name, row: int, index: _Index) -> _Answer:
    species = index.names[row]
    if name.rank == "subspecies":
        below = name.name.removeprefix(name.species).strip()
        verdict = FINE if name.species.endswith(f" {below}") else _counted_under(text, species)
        return _Answer(species, index.ranks[row], index.ranks[row] in _COUNTED, verdict, row)
    sentence = (
        f"The name {quoted(text)} takes in more than {species}; it is kept apart and does not count as a species."
    )
    return _Answer(f"{species} agg.", "aggregate", False, Verdict("not a species", NOTE, sentence))


def _unlisted(text: str, name: Name, index: _Index) -> _Answer:
    near = _near(name, index)
    sentence = f"The name {quoted(text)} is not on the checklist."
    suggestion = f"{' or '.join(near)}, if that was meant" if near else "check the name, or add it to the checklist"
    rank = "species" if name.rank in ("everyday", "subspecies") else name.rank
    return _Answer(name.name, rank, False, Verdict("not on the checklist", DOUBT, sentence, suggestion))


def _near(name: Name, index: _Index) -> list[str]:
    """Up to three listed names that the text may have meant, nearest first, as accepted names."""
    genus, _, epithet = (name.species or name.name).partition(" ")
    if genus.endswith(".") and epithet:
        fitting = [
            s
            for s in index.spellings
            if s.startswith(genus[:-1]) and s.partition(" ")[2].casefold() == epithet.casefold()
        ]
        return _accepted(fitting, index)[:3]
    hits = process.extract(
        (name.species or name.name).casefold(), index.lowered, scorer=OSA.normalized_similarity,
        score_cutoff=_ALIKE_ENOUGH, limit=3, processor=None,
    )  # fmt: skip
    return _accepted([index.spellings[place] for _, _, place in hits], index)[:3]


def _accepted(spellings: list[str], index: _Index) -> list[str]:
    found: dict[str, None] = {}
    for spelling in spellings:
        for row in sorted(index.find(spelling)[0]):
            found[index.names[row]] = None
    return list(found)
