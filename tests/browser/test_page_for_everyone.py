"""The page for everybody: checked by axe-core, for contrast, for colour vision and in grey."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytestmark = pytest.mark.browser
FILES = Path(__file__).resolve().parents[2] / "gapmap" / "outputs" / "page" / "files"

#: Machado, Oliveira and Fernandes (2009), severity 1.0, on linear RGB: protanopia, deuteranopia, tritanopia.
VISION = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


@pytest.mark.parametrize(
    "address",
    [
        "#view=coverage", "#view=coverage&table=yes", "#view=species", "#view=find&month=6", "#view=growth",
        "#view=visits", "#view=records", "#view=find&projector=yes",
        "#view=find&beside=view%3Dcoverage",
    ],
)  # fmt: skip
@pytest.mark.parametrize("width", [1280, 390])
def test_axe_finds_nothing(open_page: Callable[..., Any], address: str, width: int) -> None:
    """axe-core's rules for WCAG 2.0 to 2.2, A and AA, and its best practices."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    opened = open_page(address=address, width=width, height=844, bypass_csp=True)
    opened.page.focus("#map_gapmap")
    opened.page.keyboard.press("ArrowRight")
    opened.page.click("#about summary")
    found = axe.Axe().run(opened.page).response["violations"]
    assert [(v["id"], v["impact"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found] == []


def test_every_control_can_be_reached_and_is_seen_when_it_is(open_page: Callable[..., Any]) -> None:
    opened = open_page(address="#view=find")
    tab, reached = opened.page, []
    for _ in range(60):
        tab.keyboard.press("Tab")
        reached.append(
            tab.evaluate(
                "document.activeElement.id || document.activeElement.dataset.view || document.activeElement.tagName"
            )
        )
    for wanted in (
        "goto-text",
        "as-table",
        "projector",
        "coverage",
        "growth",
        "species-text",
        "month",
        "kind",
        "map_gapmap",
        "zoom-in",
        "SUMMARY",
    ):
        assert wanted in reached, reached
    tab.focus("#month")
    tab.keyboard.press("Shift+Tab")
    outline = tab.evaluate("getComputedStyle(document.activeElement).outlineWidth")
    assert float(outline.removesuffix("px")) >= 2


def steps() -> list[str]:
    script = (FILES / "colours.js").read_text(encoding="utf-8")
    return re.findall(r'"(#[0-9a-f]{6})"', script[script.index("const STEPS") :].splitlines()[0])


def linear(colour: str) -> np.ndarray:
    """sRGB to linear light, IEC 61966-2-1."""
    value = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(light: np.ndarray) -> np.ndarray:
    """CIE L*a*b* for D65 white."""
    to_xyz = np.array(
        [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
    )
    xyz = to_xyz @ np.clip(light, 0, 1) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("vision", ["normal", "grey", *VISION])
def test_steps_stay_apart_for_every_eye(vision: str) -> None:
    """CIE 1976 colour difference; 17 is seven times what is just seen (2.3; Sharma, Digital Color Imaging Handbook)."""
    colours = steps()
    assert len(colours) == 5
    seen = []
    for colour in colours:
        light = linear(colour)
        if vision in VISION:
            light = np.array(VISION[vision]) @ light
        seen.append(lab(light) * (np.array([1, 0, 0]) if vision == "grey" else 1))
    assert min(np.linalg.norm(a - b) for a, b in combinations(seen, 2)) >= 17
    lightness = [s[0] for s in seen]
    assert lightness == sorted(lightness, reverse=True)


def contrast(a: str, b: str) -> float:
    """WCAG 2.2: relative luminance and contrast ratio."""
    first, second = sorted((float(linear(c) @ np.array([0.2126, 0.7152, 0.0722])) for c in (a, b)), reverse=True)
    return (first + 0.05) / (second + 0.05)


def test_ink_on_paper_has_contrast() -> None:
    style = (FILES / "style.css").read_text(encoding="utf-8")
    named = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", style.splitlines()[0]))
    for ink in ("ink", "soft", "alert", "deep"):
        for paper in ("paper", "card", "deep-pale"):
            assert contrast(named[ink], named[paper]) >= 4.5, (ink, paper)
    assert contrast("#b3005e", named["paper"]) >= 3, "the outline of what has the focus"
