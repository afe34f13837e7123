"""The order of work and the usual cautions, each shown at the step where it matters.

They are reminders, not instructions for safety: safety data sheets, local codes and licensed practice
come first. Facts with a source say so; the rest is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from ..errors import UnknownNameError
from ..saying import capital

Use = Literal["candle vessel", "food contact", "planter", "edges"]

MASK = "a fitted P100 / FFP3 mask"  # the strongest for dust; one name for it everywhere
DEFERENCE = "Safety data sheets, local codes and licensed practice come before anything on this sheet."
PREBLEND = f"Stirring a pre-blend is the dustiest step: {MASK}, the lid on, and wait for the dust to settle."
PRACTICE = "Steps, water and cap are common practice; they have no published source."


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work: its short name, what to do, and what to beware of."""

    name: str
    work: str
    caution: str


# Respirable crystalline silica: 50 ug/m3 over 8 h, action level 25 (29 CFR 1926.1153 and 1910.1053).
# Wet cement: pH 12 to 13, delayed burns (HSE CIS26 rev. 2). Chromium VI: at most 2 mg/kg of dry cement
# in the EU, and the packing date must be shown (REACH Annex XVII, entry 47).
STEPS: tuple[Step, ...] = (
    Step(
        "Weigh",
        "Tare the bowl. Cement first, then each pigment; tick each line.",
        f"Cement and sand dust holds silica, pigment is fine dust: {MASK}, no draught, no dry sweeping. "
        "Some pigments are harmful, cobalt and chromium among them: read each jar's data sheet. No children near.",
    ),
    Step(
        "Mix dry",
        "Lid on; turn until the colour is even, no streaks.",
        "Wait for the dust to settle before the lid comes off.",
    ),
    Step(
        "Water",
        "Distilled: hard tap water leaves spots. Start with the first water; add by eye to a thick pourable mix.",
        "Wet cement is caustic (pH 12 to 13) and can hold chromium VI (an allergy to it stays for life): gloves, eye "
        "protection. Splashes: rinse at once; eyes: rinse for a long time and see a doctor.",
    ),
    Step(
        "Pour",
        "In the cool hours. Tap the bubbles out; too much shaking makes them as too little. Cover after 15 to 20 min.",
        "Gloves and eye protection stay on. Change clothing soaked with wet cement at once; burns show hours later.",
    ),
    Step(
        "Demould",
        "Quick-setting cement after 3 to 4 h, Portland after 24 h or later, others as their sheet says; when the mould "
        "is no longer warm: loosen, photograph, weigh. Keep young Portland pieces moist for some days.",
        f"Young edges are sharp and still caustic: gloves. Sand wet, never dry; where dust arises, {MASK}.",
    ),
    Step(
        "Dry and seal",
        "Weigh once a day. 24 h is far too soon to seal, a week is usual; the weights tell.",
        "Sealers: gloves, fresh air, no flame, as their data sheets say.",
    ),
    Step(
        "Clean up",
        "Let slurry settle in a bucket; let the sludge set and bin it.",
        "No slurry down the drain: it sets there and is caustic. Wipe wet. "
        "No acid or vinegar where ultramarine is: it frees hydrogen sulphide, a poisonous gas.",
    ),
)

_USES: dict[Use, str] = {
    "candle vessel": (
        "Candle vessels: cement can crack, crumble or let hot wax through. Sealers and pigments may burn or smoke. "
        "Test with the wick and wax you sell, leave room above the flame, and follow the fire-safety rules and "
        "candle standards where you sell; a licensed laboratory can test them."
    ),
    "food contact": (
        "Food: raw and sealed cement are not food-safe as they stand. Cement is alkaline and porous, pigments and "
        "sealers may leach. Sell as decoration only unless the materials carry a food-contact approval where you sell."
    ),
    "planter": (
        "Planters: new cement makes water alkaline. Soak and change the water for some days, or line the planter; "
        "leave a drain hole; frost can split a wet pot."
    ),
    "edges": (
        "Edges and feet: rub sharp edges down wet; say so if a rough base may scratch; heavy pieces fall hard: "
        "check that they stand firm."
    ),
}

USES: tuple[Use, ...] = tuple(_USES)


def steps_for(demould: str, water: str = "") -> tuple[Step, ...]:
    """The order of work with the words of its own cement: at demould, `after 3 to 4 h ...`; and of its water."""

    def of_its_own(step: Step) -> Step:
        if step.name == "Demould":
            return replace(step, work=f"{capital(demould)}: loosen, photograph, weigh.")
        if step.name == "Water":
            return replace(step, work=f"{step.work} {water}".rstrip())
        return step

    return tuple(map(of_its_own, STEPS))


def caution_at(step: str) -> str:
    """The caution of a step by its name; raises UnknownNameError."""
    for each in STEPS:
        if each.name == step:
            return each.caution
    raise UnknownNameError("step", step, [each.name for each in STEPS])


def caution_for(use: str, *, deference: bool = True) -> str:
    """What to say about a use (see USES), ending with what comes before it; raises UnknownNameError."""
    for name, text in _USES.items():
        if name == use:
            return f"{text} {DEFERENCE.replace('on this sheet', 'said here')}" if deference else text
    raise UnknownNameError("use", use, USES)
