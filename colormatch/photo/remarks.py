"""Warnings about a photograph, each with what to do next."""

from __future__ import annotations

import numpy as np

from .camera_model import PLACES, neutral_seen
from .camera_profile import CameraProfile
from .chart import smallest_patch_side
from .correct import Correction
from .load import PictureFacts
from .references import Found
from .sampling import Sample

_STRONG_SLOPE = 0.15  # of the light, from one end of the picture to the other
_TWO_LIGHTS = 0.12  # log of red or blue against green, from one end of the picture to the other
_GLARE = 0.012
# Strongest over weakest channel of what is grey. In simulated pictures with a card and a camera profile, those beyond
# it erred four times as much as the others.
_CAST = 1.6
_UNEVEN = 0.018  # relative sd of the level: more is seen where a camera changes light and dark by itself
_BLUR_PIXELS, _BLUR_SHARE = 8.0, 0.08  # width of an edge, in pixels and in patches
_SMALL_PATCH = 16.0  # pixels
_COARSE = 0.02  # relative sd, about half a dE


def reference_warnings(
    found: Found, correction: Correction, profile: CameraProfile | None, facts: PictureFacts
) -> tuple[str, ...]:
    """What is wrong with the picture as a whole."""
    notes = []
    part = {name: correction.belief.mean[where] for name, where in PLACES.items()}
    if not len(found.seen):
        notes.append(
            "Nothing of known colour is in the frame, so the camera's own colours were believed; expect an "
            "error of 5 or more. Lay a 24-patch chart or a grey card beside the piece."
        )
    elif len(found.seen) < 8 and profile is None and found.swatches < 3:
        notes.append(
            "With a grey card alone the camera's own colour mixing stays unknown. Photograph a 24-patch chart "
            "once with this camera and keep its camera profile, or lay known swatches beside the piece."
        )
    if profile is not None and facts.model and profile.model and profile.model != facts.model:
        notes.append(
            f"The camera profile is of {profile.model!r}, but this picture was taken with {facts.model!r}. "
            "Choose the profile of this camera."
        )
    if found.corners is not None:
        side = smallest_patch_side(found.corners)
        if side < _SMALL_PATCH:
            notes.append(f"The chart is small: its patches are {side:.0f} pixels wide. Move closer to it.")
        if found.edge_width > max(_BLUR_PIXELS, _BLUR_SHARE * side):
            notes.append("The picture is blurred. Rest the camera on something and focus on the chart.")
    neutral = neutral_seen(correction.belief.mean)[0]
    if len(found.seen) and neutral.max() > _CAST * neutral.min():
        notes.append(
            "The picture has a strong colour cast: what is grey is far from grey in it, and a grey card corrects that "
            "only in part. Set the camera's white balance for this lamp (on the card, if it lets you)."
        )
    slope = float(np.hypot(*part["slope"]))
    if slope > _STRONG_SLOPE and len(found.seen) >= 8:
        notes.append(
            f"The light falls off by {100 * (1 - np.exp(-slope)):.0f} % across the picture. It was taken into account, "
            "but lay the chart closer to the piece, or light both from farther away."
        )
    if _tint_seen(correction) > _TWO_LIGHTS:
        notes.append("Two lights of different colour seem to fall on the scene. Switch one off, or close the curtain.")
    if correction.unevenness > _UNEVEN:
        notes.append(
            "The plain sheet is lighter and darker from place to place: a shadow, or a camera that brightens parts "
            "of the picture by itself. Switch such a mode off (HDR, for one), or lay chart and piece close together."
        )
    if float(part["glare"][0]) > _GLARE:
        notes.append("A veil of stray light lies over the picture. Shade the lens and turn the chart out of the glare.")
    if len(found.seen) >= 8 and correction.reference_error > 3:
        notes.append(
            f"The references agree with each other only to {correction.reference_error:.1f} dE. "
            "Check the chart for shadow, dirt or reflections, and photograph again in even light."
        )
    return tuple(notes)


def _tint_seen(correction: Correction) -> float:
    """Most that the log of red or blue against green of a neutral changes across the picture or down it."""
    ends = np.array([[-0.5, 0], [0, -0.5], [0.5, 0], [0, 0.5]])
    seen = np.log(np.maximum(neutral_seen(correction.belief.mean, ends), 1e-3))
    change = seen[2:] - seen[:2]
    return float(np.abs(change[:, [0, 2]] - change[:, [1]]).max())


def region_warnings(sample: Sample, deeper: bool) -> tuple[str, ...]:
    """What is wrong with one region; deeper: the file holds more than the 8 bits a channel that are read."""
    notes = []
    if deeper and sample.rounding > _COARSE:
        notes.append(
            "This file holds more than 8 bits a channel, but only 8 are read here, and the region is so dark and even "
            "that it matters. Photograph with more light, or export it brighter, as an sRGB JPEG of best quality."
        )
    if sample.clipped_high > 0.02:
        notes.append(
            f"{100 * sample.clipped_high:.0f} % of the region is too bright for the camera, so its colour is lost. "
            "Photograph again with less exposure."
        )
    if sample.clipped_low > 0.05:
        notes.append(
            f"{100 * sample.clipped_low:.0f} % of the region is at the camera's black. "
            "Photograph again with more exposure or more light."
        )
    if sample.kept < 0.7:
        notes.append(
            f"Only {100 * sample.kept:.0f} % of the region is of one colour; the rest was set aside. "
            "Mark a smaller, even part."
        )
    if sample.bright_outliers > 0.1:
        notes.append("Shiny spots lie in the region. Turn the piece or the lamp, or mark a duller part.")
    if sample.spread > 0.12:
        notes.append("The region runs from light to dark. Mark a part that is lit evenly.")
    return tuple(notes)
