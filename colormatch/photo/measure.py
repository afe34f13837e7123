"""A photograph in, shades out: decode once, find the references, correct, measure every region."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import cast

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import FloatArray
from ..errors import PhotoError
from ..shade import Shade
from .background import Background, find_background
from .board import window_outlines
from .camera_profile import CameraProfile, profile_from
from .check import checked_correction
from .correct import GENERIC, Correction
from .find_board import find_board
from .load import PictureSource, load_picture
from .picture import Picture, PictureFacts
from .placement import placement
from .population import SURFACES, Surface
from .references import INNER, Chart24, Found, Reference, sample_references
from .regions import Region, quadrilateral, region_outline
from .remarks import Grade, PictureFindings, RegionFindings, Remark, gravest, picture_remarks, region_remarks
from .sampling import sample_region, sheen

FIND_CHART = Chart24()
_HIDDEN = 10.0  # dE that clipped pixels may hide, were all of a region clipped (from memory)
_LIGHTNESS_PER_LIGHT = 100 / 3  # L* is about the cube root of the light
_BOUNDS = (np.array([0.0, -150, -150]), np.array([105.0, 150, 150]))  # CIELAB of anything that reflects


@dataclass(frozen=True, eq=False)
class ReferencePatch:
    """One reference as used: outline (n, 2) in pixels; known and corrected CIELAB (3,); left_out: dE00
    when predicted from all the others."""

    name: str
    outline: FloatArray
    known: FloatArray
    corrected: FloatArray
    left_out: float


@dataclass(frozen=True, eq=False)
class Photo:
    """One region of a photograph, measured.

    shade: CIELAB with its covariance. warnings: at most three sentences, the gravest first. reference_error:
    mean dE00 of each reference predicted from the others (nan with fewer than 8). spread: dE00 over the
    region. method: the correction chosen.
    """

    shade: Shade
    warnings: tuple[str, ...]
    reference_error: float
    method: str
    spread: float
    kept: float
    clipped: float
    outline: FloatArray
    references: tuple[ReferencePatch, ...]
    chart_corners: FloatArray | None
    profile: CameraProfile | None
    facts: PictureFacts
    correction: Correction = field(repr=False)


ALL_WELL = "What tells the colour of the light was found, and the light is even."


def measure_photo(
    source: PictureSource,
    *,
    region: Region,
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
    surface: Surface = "cement",
) -> Photo:
    """The shade of one region of a photograph.

    source: path or bytes. region: (x0, y0, x1, y1) or corners (n, 2), pixels of the upright picture.
    reference: one or several of Chart24, GreyCard, KnownSwatches; None is allowed and warned about.
    profile: what an earlier chart taught about this camera. surface: "cement" with pigments like the starters, or
    "anything" (a leaf, cloth, paint, jars without a name): the same shade, less certain, as a camera does not see its
    colour as an eye does (told where a chart is in the frame or was earlier). Raises PhotoError, ReferenceNotFound.
    """
    return measure_regions(source, regions=[region], reference=reference, profile=profile, surfaces=[surface])[0]


def measure_regions(
    source: PictureSource,
    *,
    regions: Sequence[Region],
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
    surfaces: Sequence[Surface] | None = None,
) -> list[Photo]:
    """The shades of several regions of one photograph, which is decoded and corrected once.

    surfaces: what each is, as in `measure_photo`; None: all cement.
    """
    return measure_picture(
        load_picture(source), regions=regions, reference=reference, profile=profile, surfaces=surfaces
    )


def measure_picture(
    picture: Picture,
    *,
    regions: Sequence[Region],
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
    surfaces: Sequence[Surface] | None = None,
) -> list[Photo]:
    """As `measure_regions`, on a picture that is already decoded."""
    if not len(regions):
        raise PhotoError("No region is marked; mark at least one piece to measure.")
    kinds = _checked_surfaces(surfaces, len(regions))
    outlines = [region_outline(region, picture.size) for region in regions]
    fitted = _fitted(picture, reference, profile)
    found, correction = fitted.found, fitted.correction
    photo = partial(
        Photo,
        reference_error=correction.reference_error,
        method=correction.method,
        references=_reference_patches(found, correction),
        chart_corners=found.corners,
        profile=_learned(found, correction, picture.facts),
        facts=picture.facts,
        correction=correction,
    )
    measured = []
    for outline, surface in zip(outlines, kinds, strict=True):
        sample = sample_region(picture, outline)
        lab, covariance = correction.predict(sample.rgb, sample.place, sample.covariance, surface)
        placed = placement(outline, sample, found, fitted.background)
        mirrored = sheen(correction.light(sample.blocks, sample.place))
        about = region_remarks(RegionFindings(sample, placed, float(lab[0]), picture.lost_depth, mirrored))
        clipping = np.eye(3) * (_HIDDEN * sample.clipped) ** 2
        measured.append(
            photo(
                shade=Shade(np.clip(lab, *_BOUNDS), covariance=covariance + clipping),
                warnings=gravest(about + fitted.remarks),
                spread=sample.spread * _LIGHTNESS_PER_LIGHT,
                kept=sample.kept,
                clipped=sample.clipped,
                outline=outline,
            )
        )
    return measured


def _checked_surfaces(surfaces: Sequence[Surface] | None, count: int) -> Sequence[Surface]:
    kinds = ["cement"] * count if surfaces is None else surfaces
    if len(kinds) != count:
        raise PhotoError(f"{count} regions are marked, but of {len(kinds)} it is said what they are; say it of each.")
    for kind in kinds:
        if kind not in SURFACES:
            raise PhotoError(f"A surface is one of {' or '.join(map(repr, SURFACES))}, not {kind!r}.")
    return cast("Sequence[Surface]", kinds)


def measure_board(
    source: PictureSource,
    *,
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    corners: ArrayLike | None = None,
    profile: CameraProfile | None = None,
) -> list[Photo]:
    """The tiles of a tile board in their windows' order, measured once so that the board can be a reference itself.

    corners (4, 2): the border's outer corners, clockwise from window 1's; None: find it. Else as `measure_regions`.
    """
    picture = load_picture(source)
    border = find_board(picture) if corners is None else quadrilateral(corners, name="The tile board")
    windows: list[Region] = list(window_outlines(border, INNER))
    return measure_picture(picture, regions=windows, reference=reference, profile=profile)


@dataclass(frozen=True, eq=False)
class PhotoCheck:
    """Whether a photograph can be measured in: usable, what to say of it (gravest first), where the chart lies."""

    usable: bool
    words: tuple[str, ...]
    chart_corners: FloatArray | None = None


def check_photo(
    source: PictureSource,
    *,
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
) -> PhotoCheck:
    """Look at a photograph before any region is marked: is the reference found, is the light good. Never raises for
    what is wrong with the picture: its sentence comes back."""
    try:
        fitted = _fitted(load_picture(source), reference, profile)
    except PhotoError as error:
        return PhotoCheck(False, (str(error),))
    words = gravest(fitted.remarks) or (ALL_WELL,)
    return PhotoCheck(True, words, fitted.found.corners)


@dataclass(frozen=True, eq=False)
class _Fitted:
    """A picture with its references found and its camera fitted."""

    found: Found
    correction: Correction
    background: Background
    remarks: list[Remark]


def _fitted(
    picture: Picture, reference: Reference | Sequence[Reference] | None, profile: CameraProfile | None
) -> _Fitted:
    if picture.grey:
        raise PhotoError("This picture is black and white; a colour cannot be measured in it. Take it in colour.")
    background = find_background(picture)
    prior = profile.as_prior() if profile is not None else GENERIC
    found, correction = checked_correction(sample_references(picture, _as_list(reference)), prior, background)
    remarks = [Remark(Grade.LOST, note) for note in picture.warnings + found.warnings]
    remarks += picture_remarks(PictureFindings(found, correction, profile, picture.facts))
    return _Fitted(found, correction, background, remarks)


def _as_list(reference: Reference | Sequence[Reference] | None) -> list[Reference]:
    if reference is None:
        return []
    return list(reference) if isinstance(reference, Sequence) else [reference]


def _learned(found: Found, correction: Correction, facts: PictureFacts) -> CameraProfile | None:
    if found.corners is None or not facts.model:
        return None
    return profile_from(correction, model=facts.model, learned_on=facts.taken_on)


def _reference_patches(found: Found, correction: Correction) -> tuple[ReferencePatch, ...]:
    fitted = zip(found.items, correction.residual, correction.left_out, strict=True)
    return tuple(ReferencePatch(i.name, i.outline, i.lab, i.lab + off, float(out)) for i, off, out in fitted)
