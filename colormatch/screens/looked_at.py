"""Whether a photograph can be measured in, said at once: before anything on it is marked."""

from __future__ import annotations

import streamlit as st

from colormatch.photo import CameraProfile, PhotoCheck, Reference, check_photo
from colormatch.photo.measure import ALL_WELL
from colormatch.screens.blocks import small
from colormatch.screens.decoded import decoded
from colormatch.screens.drawing import plain
from colormatch.screens.state import Upload


def looked_at(
    upload: Upload, reference: Reference | None, stamp: object = "", profile: CameraProfile | None = None
) -> PhotoCheck:
    """Look for what tells the colours and say the gravest of what is wrong; stamp: tells this reference from others."""
    which = repr((upload.sha256, stamp, None if profile is None else profile.charts))
    found = _checked(which, upload, reference, profile)
    if not found.usable:
        st.error(plain(found.words[0]))
    elif found.words[0] == ALL_WELL:
        small(ALL_WELL)
    else:
        st.warning(plain(found.words[0]))
    return found


@st.cache_resource(max_entries=6, show_spinner="Looking at the photograph")
def _checked(stamp: str, _upload: Upload, _reference: Reference | None, _profile: CameraProfile | None) -> PhotoCheck:
    return check_photo(decoded(_upload), reference=_reference, profile=_profile)
