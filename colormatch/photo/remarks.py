"""Warnings about a photograph: a table of what is looked for, and the sentence that says what to do next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .camera_model import PLACES, neutral_seen
from .camera_profile import CameraProfile
from .chart import smallest_patch_side
from .correct import FEWEST_TO_CHOOSE, Correction
from .load import PictureFacts
from .references import Found
from .sampling import Sample

# Without a source named, these are from memory of photographing charts, and tried on simulated pictures.
_STRONG_SLOPE = 0.15  # of the light, from one end of the picture to the other
_TWO_LIGHTS = 0.12  # log of red or blue against green, from one end of the picture to the other
_GLARE = 0.012  # linear light added everywhere
# Strongest over weakest channel of what is grey. In simulated pictures with a card and a camera profile, those beyond
# it erred four times as much as the others.
_CAST = 1.6
_UNEVEN = 0.018  # relative sd of the level: more is seen where a camera changes light and dark by itself
_BLUR_PIXELS, _BLUR_SHARE = 8.0, 0.08  # width of an edge, in pixels and in patches
_SMALL_PATCH = 16.0  # pixels
_POOR_FIT = 3.0  # mean dE00 of references predicted from each other
_COARSE = 0.02  # relative sd, about half a dE
_ENDS = np.array([[-0.5, 0], [0, -0.5], [0.5, 0], [0, 0.5]])  # of the picture: left, top, right, bottom


@dataclass(frozen=True, eq=False)
class PictureFindings:
    """What a fitted picture shows, as the table below asks for it."""

    found: Found
    correction: Correction
    profile: CameraProfile | None
    facts: PictureFacts

    @property
    def known(self) -> int:
        return len(self.found.items)

    @property
    def fitted(self) -> bool:
        """Whether there are references enough to tell the light and the camera apart."""
        return self.known >= FEWEST_TO_CHOOSE

    @property
    def camera_unknown(self) -> bool:
        return not self.fitted and self.profile is None and self.found.are("swatch").sum() < 3

    @property
    def another_camera(self) -> bool:
        models = {self.facts.model, self.profile.model if self.profile else ""}
        return "" not in models and len(models) == 2

    @property
    def patch_side(self) -> float:
        return np.inf if self.found.corners is None else smallest_patch_side(self.found.corners)

    @property
    def cast(self) -> float:
        neutral = neutral_seen(self.correction.estimate.mean)[0]
        return float(neutral.max() / neutral.min()) if self.known else 1.0

    @property
    def slope(self) -> float:
        return float(np.hypot(*self.correction.estimate.mean[PLACES["slope"]])) if self.fitted else 0.0

    @property
    def fall_off(self) -> float:
        return float(1 - np.exp(-self.slope))

    @property
    def tint(self) -> float:
        """Most that the log of red or blue against green of a neutral changes across the picture or down it."""
        seen = np.log(np.maximum(neutral_seen(self.correction.estimate.mean, _ENDS), 1e-3))
        change = seen[2:] - seen[:2]
        return float(np.abs(change[:, [0, 2]] - change[:, [1]]).max())

    @property
    def glare(self) -> float:
        return float(self.correction.estimate.mean[PLACES["glare"]][0])


_OF_PICTURE: tuple[tuple[Callable[[PictureFindings], bool], str], ...] = (
    (
        lambda p: p.known == 0,
        "Nothing of known colour is in the frame, so the camera's own colours were taken as they are; expect an error "
        "of 5 or more. Lay a 24-patch chart or a grey card beside the piece.",
    ),
    (
        lambda p: p.known > 0 and p.camera_unknown,
        "With a grey card alone the camera's own colour mixing stays unknown. Photograph a 24-patch chart once with "
        "this camera and keep its camera profile, or lay known swatches beside the piece.",
    ),
    (
        lambda p: p.another_camera,
        "The camera profile is of {p.profile.model!r}, but this picture was taken with {p.facts.model!r}. "
        "Choose the profile of this camera.",
    ),
    (
        lambda p: p.patch_side < _SMALL_PATCH,
        "The chart is small: its patches are {p.patch_side:.0f} pixels wide. Move closer to it.",
    ),
    (
        lambda p: p.found.edge_width > max(_BLUR_PIXELS, _BLUR_SHARE * p.patch_side),
        "The picture is blurred. Rest the camera on something and focus on the chart.",
    ),
    (
        lambda p: p.cast > _CAST,
        "The picture has a strong colour cast: what is grey is far from grey in it, and a grey card corrects that only "
        "in part. Set the camera's white balance for this lamp (on the card, if it lets you).",
    ),
    (
        lambda p: p.slope > _STRONG_SLOPE,
        "The light falls off by {p.fall_off:.0%} across the picture. It was taken into account, but lay the chart "
        "closer to the piece, or light both from farther away.",
    ),
    (
        lambda p: p.tint > _TWO_LIGHTS,
        "Two lights of different colour seem to fall on the scene. Switch one off, or close the curtain.",
    ),
    (
        lambda p: p.correction.unevenness > _UNEVEN,
        "The background is lighter and darker from place to place: a shadow, or a camera that brightens parts of the "
        "picture by itself. Switch such a mode off (HDR, for one), or lay chart and piece close together.",
    ),
    (
        lambda p: p.glare > _GLARE,
        "A veil of stray light lies over the picture. Shade the lens and turn the chart out of the glare.",
    ),
    (
        lambda p: p.fitted and p.correction.reference_error > _POOR_FIT,
        "The references agree with each other only to {p.correction.reference_error:.1f} dE. "
        "Check the chart for shadow, dirt or reflections, and photograph again in even light.",
    ),
)

# The second argument: whether the file holds more than the 8 bits a channel that are read.
_OF_REGION: tuple[tuple[Callable[[Sample, bool], bool], str], ...] = (
    (
        lambda r, deeper: deeper and r.rounding > _COARSE,
        "This file holds more than 8 bits a channel, but only 8 are read here, and the region is so dark and even that "
        "it matters. Photograph with more light, or export it brighter, as an sRGB JPEG of best quality.",
    ),
    (
        lambda r, _: r.clipped_high > 0.02,
        "{r.clipped_high:.0%} of the region is too bright for the camera, so its colour is lost. "
        "Photograph again with less exposure.",
    ),
    (
        lambda r, _: r.clipped_low > 0.05,
        "{r.clipped_low:.0%} of the region is at the camera's black. Photograph again with more exposure "
        "or more light.",
    ),
    (
        lambda r, _: r.kept < 0.7,
        "Only {r.kept:.0%} of the region is of one colour; the rest was set aside. Mark a smaller, even part.",
    ),
    (
        lambda r, _: r.bright_outliers > 0.1,
        "Shiny spots lie in the region. Turn the piece or the lamp, or mark a duller part.",
    ),
    (lambda r, _: r.spread > 0.12, "The region runs from light to dark. Mark a part that is lit evenly."),
)


def picture_warnings(picture: PictureFindings) -> tuple[str, ...]:
    """What is wrong with the picture as a whole."""
    return tuple(_said(sentence, p=picture) for holds, sentence in _OF_PICTURE if holds(picture))


def region_warnings(sample: Sample, deeper: bool) -> tuple[str, ...]:
    """What is wrong with one region; deeper: the file holds more than the 8 bits a channel that are read."""
    return tuple(_said(sentence, r=sample) for holds, sentence in _OF_REGION if holds(sample, deeper))


def _said(sentence: str, **found: object) -> str:
    return sentence.format(**found).replace("%", " %")
