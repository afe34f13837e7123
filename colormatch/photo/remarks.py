"""Warnings about a photograph: a table of what is looked for, and the sentence that says what to do next.

At most three are given, the gravest first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np

from .camera_model import PLACES, neutral_seen
from .camera_profile import CameraProfile
from .chart import smallest_patch_side, tilt
from .correct import FEWEST_TO_CHOOSE, Correction
from .load import to_install
from .picture import PictureFacts
from .placement import Placement
from .references import Found
from .sampling import Sample

# Without a source named, these are from memory of photographing charts, and tried on simulated pictures.
_STRONG_SLOPE = 0.25  # of the light, from one end to the other: up to 0.2 costs nothing in simulated pictures
_TWO_LIGHTS = 0.12  # log of red or blue against green, from one end of the picture to the other
_GLARE = 0.012  # linear light added everywhere
# Strongest over weakest channel of what is grey. In simulated pictures with a card and a camera profile, those beyond
# it erred four times as much as the others.
_CAST = 1.6
_UNEVEN = 0.018  # relative sd of the level: more is seen where a camera changes light and dark by itself
_BLUR_PIXELS, _BLUR_SHARE = 8.0, 0.08  # width of an edge, in pixels and in patches
_SMALL_PATCH = 16.0  # pixels
_POOR_FIT = 3.0  # mean dE00 of references predicted from each other
_TILT = 35.0  # degrees between camera and chart
_EDGE = 0.03  # relative sd of the level about a smooth fall; nine in ten tiles have none above 0.012
_EDGE_COLOUR = 0.06  # log of red or blue against green: beyond it an edge is not a shadow's
_KEPT = 0.8  # share of pixels of one colour; of a pitted tile it is 0.95
_DARK, _DARK_WITH_SHEEN = 35.0, 45.0  # L*: below it a glint is a large part of the light; of a piece with a sheen
_SHEEN = 0.0015  # of a white's light, sd over the region: a dark piece is off by 1.5 dE then (18 simulated frames)
_GLINTS, _GLINTS_DARK = 0.1, 0.03  # shares of pixels
_RUNS = 0.12  # relative sd of the level
_COARSE = 0.02  # relative sd, about half a dE
_ENDS = np.array([[-0.5, 0], [0, -0.5], [0.5, 0], [0, 0.5]])  # of the picture: left, top, right, bottom
MOST = 3  # more are not read; a judgement


class Grade(IntEnum):
    """How grave: the shade is of something else; colour is lost; the light is poor; it could be better."""

    ELSEWHERE = 1
    LOST = 2
    LIGHT = 3
    ADVICE = 4


@dataclass(frozen=True)
class Remark:
    """A sentence for the maker, and how grave it is."""

    grade: Grade
    sentence: str


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
        return not self.fitted and self.profile is None and self.found.seen.swatch.sum() < 3

    @property
    def another_camera(self) -> bool:
        models = {self.facts.model, self.profile.model if self.profile else ""}
        return "" not in models and len(models) == 2

    @property
    def patch_side(self) -> float:
        return np.inf if self.found.corners is None else smallest_patch_side(self.found.corners)

    @property
    def tilt(self) -> float:
        return 0.0 if self.found.corners is None else tilt(self.found.corners)

    @property
    def cast(self) -> float:
        neutral = neutral_seen(self.correction.estimate.mean)[0]
        return float(neutral.max() / neutral.min()) if self.known and not self.fitted else 1.0

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


@dataclass(frozen=True, eq=False)
class RegionFindings:
    """What one region shows; lost_depth: the file holds more than the 8 bits a channel that are read; sheen: grey light
    that it mirrors."""

    sample: Sample
    placed: Placement
    lightness: float
    lost_depth: bool
    sheen: float

    @property
    def edge(self) -> bool:
        return self.sample.step > _EDGE

    @property
    def two_colours(self) -> bool:
        return self.sample.kept < _KEPT or (self.edge and self.sample.colour_step > _EDGE_COLOUR)

    @property
    def shiny(self) -> bool:
        dark = self.lightness < _DARK
        mirrors = (
            self.lightness < _DARK_WITH_SHEEN
            and self.sheen > _SHEEN
            and not self.two_colours
            and not self.placed.half_off
        )
        return mirrors or self.sample.bright_outliers > (_GLINTS_DARK if dark else _GLINTS)


_OF_PICTURE: tuple[tuple[Grade, Callable[[PictureFindings], bool], str], ...] = (
    (
        Grade.ELSEWHERE,
        lambda p: p.known == 0,
        "Nothing of known colour is in the frame, so the camera's own colours were taken as they are; expect an "
        "error of 5 or more. Lay a 24-patch chart or a grey card beside the piece.",
    ),
    (
        Grade.ELSEWHERE,
        lambda p: p.another_camera,
        "The camera profile is of {p.profile.model!r}, but this picture was taken with {p.facts.model!r}. Choose "
        "the profile of this camera.",
    ),
    (
        Grade.LOST,
        lambda p: p.facts.flash,
        "The flash fired, and lights what is near more than what is far. Switch it off, and use lamps or a window.",
    ),
    (
        Grade.LOST,
        lambda p: p.found.edge_width > max(_BLUR_PIXELS, _BLUR_SHARE * p.patch_side),
        "The picture is blurred. Rest the camera on something and focus on the chart.",
    ),
    (
        Grade.LOST,
        lambda p: p.cast > _CAST,
        "The picture has a strong colour cast: what is grey is far from grey in it, and a grey card corrects that "
        "only in part. Set the camera's white balance for this lamp (on the card, if it lets you).",
    ),
    (
        Grade.LIGHT,
        lambda p: p.tint > _TWO_LIGHTS,
        "Two lights of different colour seem to fall on the scene. Switch one off, or close the curtain.",
    ),
    (
        Grade.LIGHT,
        lambda p: p.fitted and p.correction.reference_error > _POOR_FIT,
        "The references agree with each other only to {p.correction.reference_error:.1f} dE. Check the chart for "
        "shadow, dirt or reflections, and photograph again in even light.",
    ),
    (
        Grade.LIGHT,
        lambda p: p.correction.unevenness > _UNEVEN,
        "The background is lighter and darker from place to place: a shadow, or a camera that brightens parts of "
        "the picture by itself. Switch such a mode off (HDR, for one), or lay chart and piece close together.",
    ),
    (
        Grade.LIGHT,
        lambda p: p.glare > _GLARE,
        "A veil of stray light lies over the picture. Shade the lens and turn the chart out of the glare.",
    ),
    (
        Grade.LIGHT,
        lambda p: p.tilt > _TILT,
        "The camera looks at the chart from {p.tilt:.0f} degrees aside. Hold it straight above, so that nothing "
        "shines.",
    ),
    (
        Grade.LIGHT,
        lambda p: p.slope > _STRONG_SLOPE,
        "The light falls off by {p.fall_off:.0%} across the picture. It was taken into account, but lay the chart "
        "closer to the piece, or light both from farther away.",
    ),
    (
        Grade.ADVICE,
        lambda p: p.patch_side < _SMALL_PATCH,
        "The chart is small: its patches are {p.patch_side:.0f} pixels wide. Move closer to it.",
    ),
    (
        Grade.ADVICE,
        lambda p: p.known > 0 and p.camera_unknown,
        "With a grey card alone the camera's own colour mixing stays unknown. Photograph a 24-patch chart once "
        "with this camera and keep its camera profile, or lay known swatches beside the piece.",
    ),
)

_OF_REGION: tuple[tuple[Grade, Callable[[RegionFindings], bool], str], ...] = (
    (
        Grade.ELSEWHERE,
        lambda r: r.placed.on_chart,
        "The region lies on the chart, not on the piece. Mark it again.",
    ),
    (
        Grade.ELSEWHERE,
        lambda r: r.placed.on_reference != "",
        "The region lies on the {r.placed.on_reference}, whose colour is known already. Mark it on the piece.",
    ),
    (
        Grade.ELSEWHERE,
        lambda r: r.placed.on_background,
        "The region has the colour of the background. If it lies beside the piece, mark it again.",
    ),
    (
        Grade.ELSEWHERE,
        lambda r: r.placed.half_off,
        "The region is half off the piece: part of it has the colour of the background. Mark it again, well within "
        "the piece.",
    ),
    (
        Grade.ELSEWHERE,
        lambda r: r.two_colours and not r.placed.half_off,
        "Only {r.sample.kept:.0%} of the region is of one colour: it may be half off the piece. Mark a smaller, "
        "even part.",
    ),
    (
        Grade.LOST,
        lambda r: r.sample.clipped_high > 0.02,
        "{r.sample.clipped_high:.0%} of the region is too bright for the camera, so its colour is lost. "
        "Photograph again with less exposure.",
    ),
    (
        Grade.LOST,
        lambda r: r.sample.clipped_low > 0.05,
        "{r.sample.clipped_low:.0%} of the region is at the camera's black. Photograph again with more exposure "
        "or more light.",
    ),
    (
        Grade.LOST,
        lambda r: r.edge and not r.two_colours and not r.placed.half_off,
        "An edge of light and dark runs through the region, such as a shadow's. Mark a part to one side of it, or "
        "move what casts the shadow.",
    ),
    (
        Grade.LOST,
        lambda r: r.shiny,
        "The piece mirrors light here. Take it again with the lamp to the side, or mark a duller part.",
    ),
    (
        Grade.LIGHT,
        lambda r: r.sample.spread > _RUNS and not r.edge,
        "The region runs from light to dark. Mark a part that is lit evenly.",
    ),
    (
        Grade.ADVICE,
        lambda r: r.lost_depth and r.sample.rounding > _COARSE,
        "This file holds more than 8 bits a channel, but only 8 were read, and the region is so dark and even that it "
        f"matters. For PNG and TIFF of at most 32 megapixels, {to_install('opencv-python-headless')}; else photograph "
        "with more light.",
    ),
)


def picture_remarks(picture: PictureFindings) -> list[Remark]:
    """What is wrong with the picture as a whole."""
    return [Remark(grade, _said(sentence, p=picture)) for grade, holds, sentence in _OF_PICTURE if holds(picture)]


def region_remarks(region: RegionFindings) -> list[Remark]:
    """What is wrong with one region."""
    return [Remark(grade, _said(sentence, r=region)) for grade, holds, sentence in _OF_REGION if holds(region)]


def gravest(remarks: Iterable[Remark]) -> tuple[str, ...]:
    """The gravest few sentences, each once."""
    ordered = sorted(remarks, key=lambda remark: remark.grade)
    return tuple(dict.fromkeys(remark.sentence for remark in ordered))[:MOST]


def _said(sentence: str, **found: Any) -> str:
    return sentence.format(**found).replace("%", " %")
