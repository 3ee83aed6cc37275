"""Packing: every column comes back as it went in."""

from __future__ import annotations

import base64
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gapmap.outputs.page.build import json_for_script
from gapmap.outputs.page.pack import HOLE, Block, bytes_to_wholes, clean, fold_signs, wholes_to_bytes
from gapmap.outputs.page.read import read_block

WHOLES = st.lists(st.integers(0, 2**53 - 1))


def test_the_published_example() -> None:
    """LEB128 in the DWARF standard, version 5, section 7.6 (values from memory)."""
    assert wholes_to_bytes([2, 127, 128, 129, 130, 12857]).hex() == "027f800181018201b964"


@given(WHOLES)
def test_wholes_come_back(numbers: list[int]) -> None:
    assert bytes_to_wholes(wholes_to_bytes(numbers)).tolist() == numbers


@given(st.lists(st.integers(-(2**40), 2**40)), st.lists(st.one_of(st.none(), st.integers(0, 10**6))))
def test_signed_and_decimal_columns_come_back(signed: list[int], tenths: list[int | None]) -> None:
    block = Block()
    block.add_signed("signed", signed)
    block.add_decimals("tenths", [np.nan if t is None else t / 10 for t in tenths], 10)
    read = read_block(block.manifest, block.to_text())
    assert list(read["signed"]) == signed
    assert [None if np.isnan(t) else round(t * 10) for t in np.asarray(read["tenths"], dtype=float)] == tenths


@given(st.lists(st.text()))
def test_texts_come_back_but_for_control_characters(texts: list[str]) -> None:
    block = Block()
    block.add_texts("said", texts)
    block.add_strings("plain", texts)
    read = read_block(block.manifest, block.to_text())
    assert read["said"] == read["plain"] == [clean(text) for text in texts]


@given(st.lists(st.from_regex(r"\A([0-9]{1,12}|0[.,]05|[a-z %]{0,3}|-){0,6}\Z")))
def test_numbers_in_texts_come_back(texts: list[str]) -> None:
    block = Block()
    block.add_texts("said", texts)
    assert read_block(block.manifest, block.to_text())["said"] == texts


def test_like_sentences_are_kept_once() -> None:
    block = Block()
    block.add_texts("said", [f"{n} of 12 species" for n in range(500)])
    forms = block.manifest[0]
    assert forms[0] == "said.forms"
    assert forms[2] == len(f'["{HOLE} of {HOLE} species"]'.replace(HOLE, "\\u0001"))


@given(st.lists(st.binary(max_size=300)))
def test_the_joined_pieces_are_one_zlib_stream(parts: list[bytes]) -> None:
    """RFC 1950: header, deflate blocks, Adler-32; checked by zlib itself."""
    block = Block()
    for number, part in enumerate(parts):
        block.add_bytes(str(number), np.frombuffer(part, dtype=np.uint8))
    assert zlib.decompress(base64.b64decode(block.to_text())) == b"".join(parts)


def test_negative_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="from 0 up"):
        wholes_to_bytes([3, -1])


def test_signs_fold() -> None:
    assert fold_signs([0, -1, 1, -2, 2]).tolist() == [0, 1, 2, 3, 4]


@given(st.text())
def test_no_text_ends_or_opens_an_element(text: str) -> None:
    """WHATWG HTML, 4.12.1.3: script content must hold neither </script nor <!--; U+2028 and U+2029 end old lines."""
    written = json_for_script([text, "</script><!--\u2028\u2029&"])
    assert not set("<>&\u2028\u2029") & set(written)
