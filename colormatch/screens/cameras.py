"""What earlier charts taught about the maker's cameras, kept in the library by EXIF model."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from colormatch.errors import PhotoError
from colormatch.library import CameraProfileRecord
from colormatch.photo import CameraProfile, combine_profiles
from colormatch.screens.studios import library


def known_camera(model: str) -> CameraProfile | None:
    """The kept profile of a camera, or None; one without a model in its photographs is never known."""
    record = _record(model)
    return None if record is None else _profile(record)


def keep_camera(profile: CameraProfile) -> CameraProfile:
    """Keep a profile, put together with what is known of this camera already."""
    record = _record(profile.model)
    if record is None:
        library().save(CameraProfileRecord(name=profile.model, made_on=date.today(), content=profile.to_dict()))
        return profile
    known = _profile(record)
    together = profile if known is None else combine_profiles([known, profile])
    library().save(replace(record, made_on=date.today(), content=together.to_dict()))
    return together


def _profile(record: CameraProfileRecord) -> CameraProfile | None:
    """None for one of an earlier version: a measurement then asks for a chart, and the chart replaces it."""
    try:
        return CameraProfile.from_dict(record.content)
    except PhotoError:
        return None


def _record(model: str) -> CameraProfileRecord | None:
    found = library().list(CameraProfileRecord, name=model) if model else []
    return found[0] if found else None
