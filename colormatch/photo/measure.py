"""A photograph in, shades out: decode once, find the references, correct, measure every region."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from ..arrays import FloatArray
from ..errors import PhotoError
from ..shade import Shade
from .background import find_background
from .camera_profile import CameraProfile, profile_from
from .check import checked_correction
from .correct import GENERIC, Correction
from .load import Picture, PictureFacts, PictureSource, load_picture
from .placement import placement
from .references import Chart24, Found, Reference, sample_references
from .regions import Region, region_outline
from .remarks import Grade, PictureFindings, RegionFindings, Remark, gravest, picture_remarks, region_remarks
from .sampling import sample_region

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


def measure_photo(
    source: PictureSource,
    *,
    region: Region,
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
) -> Photo:
    """The shade of one region of a photograph.

    source: path or bytes. region: (x0, y0, x1, y1) or corners (n, 2), pixels of the upright picture.
    reference: one or several of Chart24, GreyCard, KnownSwatches; None is allowed and warned about.
    profile: what an earlier chart taught about this camera. Raises PhotoError, ReferenceNotFound.
    """
    return measure_regions(source, regions=[region], reference=reference, profile=profile)[0]


def measure_regions(
    source: PictureSource,
    *,
    regions: Sequence[Region],
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
) -> list[Photo]:
    """The shades of several regions of one photograph, which is decoded and corrected once."""
    return measure_picture(load_picture(source), regions=regions, reference=reference, profile=profile)


def measure_picture(
    picture: Picture,
    *,
    regions: Sequence[Region],
    reference: Reference | Sequence[Reference] | None = FIND_CHART,
    profile: CameraProfile | None = None,
) -> list[Photo]:
    """As `measure_regions`, on a picture that is already decoded."""
    if picture.grey:
        raise PhotoError("This picture is black and white; a colour cannot be measured in it. Take it in colour.")
    if not len(regions):
        raise PhotoError("No region is marked; mark at least one piece to measure.")
    outlines = [region_outline(region, picture.size) for region in regions]
    found = sample_references(picture, _as_list(reference))
    prior = profile.as_prior() if profile is not None else GENERIC
    background = find_background(picture)
    found, correction = checked_correction(found, prior, background)
    findings = PictureFindings(found, correction, profile, picture.facts)
    remarks = [Remark(Grade.LOST, note) for note in picture.warnings + found.warnings] + picture_remarks(findings)
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
    for outline in outlines:
        sample = sample_region(picture, outline)
        lab, covariance = correction.predict(sample.rgb, sample.place, sample.covariance)
        placed = placement(outline, sample, found, background)
        about = region_remarks(RegionFindings(sample, placed, float(lab[0]), picture.deeper))
        clipping = np.eye(3) * (_HIDDEN * sample.clipped) ** 2
        measured.append(
            photo(
                shade=Shade(np.clip(lab, *_BOUNDS), covariance=covariance + clipping),
                warnings=gravest(about + remarks),
                spread=sample.spread * _LIGHTNESS_PER_LIGHT,
                kept=sample.kept,
                clipped=sample.clipped,
                outline=outline,
            )
        )
    return measured


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
