"""The reminder that stands on every field sheet: not advice, and no replacement for local codes."""

from __future__ import annotations

SAFETY_TITLE = "A reminder, not advice"
#: Common practice, no source: what people who run field days remind each other of.
SAFETY: tuple[str, ...] = (
    "Tell someone where you are and when you will be back; carry a charged telephone, and know that it may have no "
    "signal.",
    "Look at daylight, weather and tides before you set out, and turn back in good time.",
    "Keep clear of deep or fast water, cliffs, soft ground, roads, railways and livestock.",
    "Look for ticks afterwards; cover skin, wash hands before eating.",
    "Ask the landowner first; a square on this sheet is no right of way.",
    "Protected species and sites need a licence or consent: without one, leave them alone.",
    "Take no more specimens than are needed to be certain; put stones and logs back as they lay.",
    "Clean boots and kit between places, so that nothing travels with you.",
    "Do not go alone or in the dark unless you have agreed to it and feel up to it; nobody minds a visit called off.",
    "Local codes of conduct and the licensing authority say what holds here: follow them before anything on this "
    "sheet.",
)
