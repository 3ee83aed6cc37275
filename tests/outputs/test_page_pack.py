"""Packing: every column comes back as it went in."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gapmap.outputs.page.pack import Block
from gapmap.outputs.page.planes import (
    HARMFUL,
    bytes_to_text,
    fold_signs,
    planes_to_wholes,
    text_to_bytes,
    unfold_signs,
    wholes_to_planes,
)
from gapmap.outputs.page.read import read_block
from gapmap.outputs.page.sentences import HOLE, clean

WHOLES = st.lists(st.integers(0, 2**53 - 1))


def test_planes_are_the_digits_of_positional_notation() -> None:
    """Arithmetic: 12,857 is 50 × 256 + 57, and 0x3239 written in sixteens."""
    assert [plane.tolist() for plane in wholes_to_planes([12_857], 8)] == [[57], [50]]
    assert [plane.tolist() for plane in wholes_to_planes([12_857], 4)] == [[0x9], [0x3], [0x2], [0x3]]
    assert wholes_to_planes([1, 0, 1, 1, 0, 0, 0, 1, 1], 1)[0].tolist() == [0b10001101, 1]


@settings(deadline=None)
@given(WHOLES, st.sampled_from([1, 2, 4, 8]))
def test_wholes_come_back(numbers: list[int], width: int) -> None:
    planes = wholes_to_planes(numbers, width)
    assert planes_to_wholes(b"".join(plane.tobytes() for plane in planes), len(numbers), width).tolist() == numbers


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 3), st.integers(0, 2000))), st.integers(0, 9))
def test_columns_kept_by_another_come_back(rows: list[tuple[int, int, int]], step: int) -> None:
    """Whatever the other column tells: everything, something, or nothing."""
    one, two, free = (np.array([row[k] for row in rows], dtype=np.int64) for k in range(3))
    block = Block()
    block.add("one", one)
    block.add("two", two)
    told = {"all": one * step + 5, "most": one * 40 + two, "none": free}
    for name, values in told.items():
        block.add(name, values, "one", "one+two")
    block.add_decimals("share", np.where(two > 0, free / 100, np.nan), 100, "two")
    read = read_block(block.manifest, block.to_bytes())
    assert all(read[name].tolist() == values.tolist() for name, values in told.items())
    assert np.array_equal(np.rint(np.nan_to_num(read["share"], nan=-1.0) * 100), np.where(two > 0, free, -100))


def test_what_another_column_tells_takes_no_room() -> None:
    visits = np.random.default_rng(3).integers(0, 30, 5_000)
    block = Block()
    block.add("visits", visits)
    alone = len(block.to_bytes())
    block.add("estimate", visits * 3 + 2, "visits")
    assert len(block.to_bytes()) - alone < 150
    assert len(zlib.compress((visits * 3 + 2).astype(np.uint8).tobytes(), 9)) > 2_000


@settings(deadline=None)
@given(st.lists(st.integers(-(2**40), 2**40)), st.lists(st.one_of(st.none(), st.integers(0, 10**6))))
def test_signed_and_decimal_columns_come_back(signed: list[int], tenths: list[int | None]) -> None:
    block = Block()
    block.add_signed("signed", signed)
    block.add_decimals("tenths", [np.nan if t is None else t / 10 for t in tenths], 10)
    read = read_block(block.manifest, block.to_bytes())
    assert list(read["signed"]) == signed
    assert [None if np.isnan(t) else round(t * 10) for t in np.asarray(read["tenths"], dtype=float)] == tenths


@settings(deadline=None)
@given(st.lists(st.text()))
def test_texts_come_back_but_for_control_characters(texts: list[str]) -> None:
    block = Block()
    block.add_texts("said", texts)
    block.add_strings("plain", texts)
    read = read_block(block.manifest, block.to_bytes())
    assert read["said"] == read["plain"] == [clean(text) for text in texts]


@settings(deadline=None)
@given(st.lists(st.from_regex(r"\A([0-9]{1,12}|0[.,]05|[a-z %]{0,3}|-){0,6}\Z")))
def test_numbers_in_texts_come_back(texts: list[str]) -> None:
    block = Block()
    block.add_texts("said", texts)
    assert read_block(block.manifest, block.to_bytes())["said"] == texts


def test_like_sentences_are_kept_once() -> None:
    block = Block()
    block.add_texts("said", [f"{n} of 12 species" for n in range(500)])
    forms = block.manifest[0]
    assert forms[0] == "said.forms"
    assert forms[1:] == ["strings", len(f'["{HOLE} of {HOLE} species"]'.replace(HOLE, "\\u0001"))]


@settings(deadline=None)
@given(st.binary(max_size=300), st.lists(st.lists(st.integers(0, 255), max_size=300)))
def test_the_joined_pieces_are_one_zlib_stream(before: bytes, columns: list[list[int]]) -> None:
    """RFC 1950: header, deflate blocks, Adler-32; checked by zlib itself."""
    block = Block()
    for number, values in enumerate(columns):
        block.add(str(number), values)
    whole = zlib.decompress(block.to_bytes(before))
    assert whole.startswith(before)
    assert len(whole) == len(before) + block.size()


def test_negative_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="from 0 up"):
        wholes_to_planes([3, -1], 8)


def test_signs_fold() -> None:
    assert fold_signs([0, -1, 1, -2, 2]).tolist() == [0, 1, 2, 3, 4]
    assert unfold_signs(fold_signs([-7, 12])).tolist() == [-7, 12]


@settings(deadline=None)
@given(st.one_of(st.binary(), st.lists(st.sampled_from(HARMFUL)).map(lambda sevens: bytes(sevens) * 3)))
def test_bytes_come_back_from_text_and_no_text_ends_an_element(packed: bytes) -> None:
    """WHATWG HTML, 13.2.3.5 and 13.2.5: a parser changes CR and NUL, and only "<" can end a script's text."""
    text = bytes_to_text(packed)
    assert not {"<", "\r", "\0"} & set(text)
    assert text_to_bytes(text.encode().decode(), len(packed)) == packed
    assert len(text.encode()) <= len(packed) * 8 / 7 + 16
