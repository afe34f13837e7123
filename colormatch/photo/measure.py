"""A photograph in, shades out: decode once, find the references, correct, measure every region."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..errors import PhotoError
from ..shade import Shade
from .camera_profile import CameraProfile, profile_from
from .check import checked_correction
from .correct import GENERIC, Correction
from .load import Picture, PictureFacts, PictureSource, load_picture
from .references import Chart24, Found, Reference, sample_references
from .regions import Region, region_outline
from .remarks import reference_warnings, region_warnings
from .sampling import Sample, sample_region
from .sheet import find_sheet

FIND_CHART = Chart24()


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

    shade: CIELAB with its covariance. reference_error: mean dE00 of each reference predicted from the
    others (nan with fewer than 8). spread: dE00 over the region. method: the correction chosen.
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
    found, correction = checked_correction(found, prior, find_sheet(picture))
    shared = picture.warnings + found.warnings + reference_warnings(found, correction, profile, picture.facts)
    references = _reference_patches(found, correction)
    learned = _learned(found, correction, picture)
    return [_one(picture, outline, found, correction, shared, references, learned) for outline in outlines]


def _as_list(reference: Reference | Sequence[Reference] | None) -> list[Reference]:
    if reference is None:
        return []
    return list(reference) if isinstance(reference, Sequence) else [reference]


def _learned(found: Found, correction: Correction, picture: Picture) -> CameraProfile | None:
    if found.corners is None or not picture.facts.model:
        return None
    return profile_from(
        correction.belief,
        model=picture.facts.model,
        learned_on=picture.facts.taken_on,
        reference_error=correction.reference_error,
    )


def _reference_patches(found: Found, correction: Correction) -> tuple[ReferencePatch, ...]:
    seen = found.seen
    if not len(seen):
        return ()
    return tuple(
        ReferencePatch(name, outline, seen.lab[i], seen.lab[i] + correction.residual[i], float(correction.left_out[i]))
        for i, (name, outline) in enumerate(zip(found.names, found.outlines, strict=True))
    )


def _one(
    picture: Picture,
    outline: FloatArray,
    found: Found,
    correction: Correction,
    shared: tuple[str, ...],
    references: tuple[ReferencePatch, ...],
    learned: CameraProfile | None,
) -> Photo:
    sample = sample_region(picture, outline)
    lab, covariance = correction.predict(sample.rgb, sample.place, sample.covariance)
    total = covariance + _clipping(sample)
    notes = region_warnings(sample, picture.deeper)
    spread = float(sample.spread * 100 / 3)
    return Photo(
        Shade(_within_bounds(lab), covariance=total),
        tuple(dict.fromkeys(shared + notes)),
        correction.reference_error,
        correction.method,
        spread,
        sample.kept,
        sample.clipped,
        outline,
        references,
        found.corners,
        learned,
        picture.facts,
        correction,
    )


def _clipping(sample: Sample) -> FloatArray:
    """What clipped pixels may hide: up to 10 dE when all are clipped (from memory)."""
    return np.eye(3) * (10.0 * sample.clipped) ** 2


def _within_bounds(lab: FloatArray) -> FloatArray:
    return np.array([np.clip(lab[0], 0, 105), *np.clip(lab[1:], -150, 150)])


def spread_between(first: Photo, second: Photo) -> float:
    """dE00 between two regions of one photograph, for two tones of one piece."""
    return float(delta_e_2000(first.shade.lab, second.shade.lab))
