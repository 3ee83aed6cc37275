"""Whole columns of recorders → sets of people, written one way each.

Variants of a name (order, initials for forenames, fewer initials) are joined only when they cannot belong to two
people among all that were named; the rest is listed for the organiser to decide in ``lookups/people.csv``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path

import pandas as pd

from gapmap.errors import FileError
from gapmap.records.own_lists import read_own_list
from gapmap.records.people.texts import Cell, Person, part_to_person, text_to_cell
from gapmap.records.verdicts import FINE, NOTE, Verdict, quoted, verdicts_to_frame

#: Columns of lookups/people.csv: a name as written, and the name it is to be counted under.
PEOPLE_COLUMNS = ("written", "name")


def texts_to_people(texts: Sequence[str], known: pd.DataFrame | None = None) -> pd.DataFrame:
    """Read recorders as people write them; meant for the distinct values of all files together.

    Parameters
    ----------
    texts
        Any texts.
    known
        As `read_people` gives it: names as written and what they are counted under; rows without a name are undecided.

    Returns
    -------
    DataFrame
        One row a text, in their order: ``names`` (one way of writing each, sorted, joined by '; '), ``size`` (how many;
        0 when nobody is named), ``determiner`` (who named the species, where the text says so), and the verdict
        ``code``, ``severity``, ``sentence``, ``suggestion``. Never raises.

    Examples
    --------
    >>> found = texts_to_people(["A. Marsh & B. Holt", "Holt, B.; Marsh, Ann", "Anon"])
    >>> found.names.tolist(), found["size"].tolist()
    (['Ann Marsh; B. Holt', 'Ann Marsh; B. Holt', ''], [2, 2, 0])
    >>> texts_to_people([]).empty
    True
    """
    written = ["" if text is None or text != text else str(text) for text in texts]
    cells = {text: text_to_cell(text) for text in dict.fromkeys(written)}
    names, unclear = _counted_as({person for cell in cells.values() for person in cell.people}, _decided(known))
    answers = {text: _answer(text, cell, names, unclear) for text, cell in cells.items()}
    rows = [answers[text] for text in written]
    found = pd.DataFrame(
        {
            "names": pd.Series([row[0] for row in rows], dtype="str"),
            "size": pd.Series([row[1] for row in rows], dtype="int64"),
            "determiner": pd.Series([row[2] for row in rows], dtype="str"),
        }
    )
    return pd.concat([found, verdicts_to_frame([row[3] for row in rows])], axis=1)


def unclear_people(texts: Iterable[str], known: pd.DataFrame | None = None) -> pd.DataFrame:
    """Names that may be a variant of more than one other: for the organiser to decide in lookups/people.csv.

    Returns
    -------
    DataFrame
        ``written`` (the name as found), ``name`` (empty: to be filled in) and ``could_be`` (joined by '; '), sorted.

    Examples
    --------
    >>> unclear_people(["A. Marsh", "Ann Marsh", "Alan Marsh"]).values.tolist()
    [['A. Marsh', '', 'Alan Marsh; Ann Marsh']]
    """
    decided = _decided(known)
    cells = [text_to_cell(str(text)) for text in dict.fromkeys(texts)]
    _, unclear = _joined({person for cell in cells for person in cell.people})
    rows = [
        (person.written, "", "; ".join(others))
        for person, others in unclear.items()
        if _key(person.written) not in decided
    ]
    return pd.DataFrame(sorted(rows), columns=["written", "name", "could_be"], dtype="str")


def undecided_people(texts: Iterable[str], folder: Path | None) -> pd.DataFrame:
    """What `unclear_people` finds beside what the lookups of an area's folder have decided already."""
    path = folder / "lookups" / "people.csv" if folder else None
    return unclear_people(texts, read_people(path) if path and path.is_file() else None)


def read_people(path: Path) -> pd.DataFrame:
    """Read lookups/people.csv: the columns ``written`` and ``name``.

    Raises
    ------
    FileError
        The file cannot be read, or one written name leads to two people.
    ColumnError
        One of the two columns is missing.
    """
    people = read_own_list(path, "the people's file", needs=PEOPLE_COLUMNS, do="give it the columns written and name")
    cells = [[" ".join(row[name].split()) for name in PEOPLE_COLUMNS] for _, row in people.dicts()]
    known = pd.DataFrame([row for row in cells if row[0]], columns=list(PEOPLE_COLUMNS), dtype="str")
    decided = known[known["name"] != ""].drop_duplicates()
    twice = decided.loc[decided["written"].map(_key).duplicated(), "written"]
    if len(twice):
        raise FileError(f"{path.name} gives two names for one", found=twice.iloc[0], do="keep one of the two rows")
    return known


def _decided(known: pd.DataFrame | None) -> dict[str, str]:
    if known is None or not len(known):
        return {}
    pairs = zip(known["written"].astype(str), known["name"].astype(str), strict=True)
    return {_key(written): name for written, name in pairs if name.strip()}


def _key(written: str) -> str:
    person = part_to_person(written)
    return (person.written if person else written).casefold()


def _counted_as(
    people: set[Person], decided: dict[str, str]
) -> tuple[dict[Person, str], dict[Person, list[str]]]:
    """The name that each person is counted under, and the others that one nobody has decided on could be."""
    joined, unclear = _joined(people)
    names = {person: decided.get(person.written.casefold(), "") for person in people}
    undecided = {person: others for person, others in unclear.items() if not names[person]}
    return {person: name or joined.get(person, person).written for person, name in names.items()}, undecided


def _answer(
    text: str, cell: Cell, counted_as: dict[Person, str], unclear: dict[Person, list[str]]
) -> tuple[str, int, str, Verdict]:
    verdict = FINE
    for person in (p for p in cell.people if p in unclear):
        verdict = Verdict(
            "person unclear", NOTE, f"{person.written} in {quoted(text)} can be {' or '.join(unclear[person])}.",
            "say who it is in lookups/people.csv",
        )  # fmt: skip
    names = {counted_as[person] for person in cell.people}
    return "; ".join(sorted(names)), len(names) + bool(cell.others and names), cell.determiner, verdict


def _joined(people: set[Person]) -> tuple[dict[Person, Person], dict[Person, list[str]]]:
    """Which person each variant stands for, and the variants that could stand for several."""
    surnames: dict[tuple[str, str], set[Person]] = defaultdict(set)
    for person in people:
        first_letter = person.given[0].casefold()[:1] if person.given else ""
        surnames[person.surname.casefold(), first_letter].add(person)
    joined: dict[Person, Person] = {}
    unclear: dict[Person, list[str]] = {}
    for group in surnames.values():
        for together in _groups(sorted(group)):
            if all(_can_be_one(one, other) for one in together for other in together):
                fullest = max(together, key=lambda person: (_fullness(person), person))
                joined.update(dict.fromkeys(together, fullest))
                continue
            for person in together:
                fuller = [
                    p for p in together if p != person and _can_be_one(person, p) and _fullness(p) > _fullness(person)
                ]
                apart = any(not _can_be_one(one, other) for one in fuller for other in fuller)
                if apart:
                    unclear[person] = sorted(p.written for p in fuller)
    return joined, unclear


def _groups(people: list[Person]) -> list[list[Person]]:
    """People linked by variants that can be one, directly or through others."""
    left, groups = list(people), []
    while left:
        group = [left.pop(0)]
        for person in group:
            near = [other for other in left if _can_be_one(person, other)]
            left = [other for other in left if other not in near]
            group += near
        groups.append(group)
    return groups


def _can_be_one(one: Person, other: Person) -> bool:
    """Whether two ways of writing can be the same person: no given name speaks against it, and both state one."""
    if one.is_body or other.is_body or not one.given or not other.given:
        return one.is_body == other.is_body and tuple(map(str.casefold, one.given)) == tuple(
            map(str.casefold, other.given)
        )
    return all(
        a.casefold() == b.casefold() or (min(len(a), len(b)) == 1 and a[0].casefold() == b[0].casefold())
        for a, b in zip(one.given, other.given, strict=False)
    )


def _fullness(person: Person) -> tuple[int, int]:
    return len(person.given), sum(len(part) for part in person.given)
