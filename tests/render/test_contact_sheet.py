"""A contact sheet shows the colours that were measured, each state of a swatch beside the others."""

import pytest

from colormatch.colorimetry import lab_to_srgb
from colormatch.errors import LibraryError
from colormatch.library import ShadeRecord, Swatch, find_near, open_library
from colormatch.render import contact_sheet
from colormatch.render.canvas import SURROUND


@pytest.fixture
def library(tmp_path):
    with open_library(tmp_path) as opened:
        for name, lab in (("<b>Rust</b>\u202e", (50, 20, 20)), ("Ash " * 40, (80, 0, 0))):
            pot = opened.save(Swatch(name=name))
            opened.save(ShadeRecord(swatch_uid=pot.uid, lab=lab))
        opened.save(ShadeRecord(swatch_uid=pot.uid, lab=(30, 20, 20), state="wet"))
        yield opened


def test_it_shows_the_colours(library):
    sheet = contact_sheet(library, find_near(library, (50, 20, 20)), columns=2)
    colours = {colour for _, colour in sheet.getcolors(1 << 20)}
    for lab in ((50, 20, 20), (30, 20, 20), (80, 0, 0)):
        assert tuple(round(255 * float(part)) for part in lab_to_srgb(lab)) in colours
    assert sheet.getpixel((0, 0)) == SURROUND
    assert contact_sheet(library, library.list(Swatch)).size == sheet.size


def test_none_or_too_many_are_refused(library):
    with pytest.raises(LibraryError, match="shows 1 to 400 swatches, not 0"):
        contact_sheet(library, [])
    with pytest.raises(LibraryError, match="not 402"):
        contact_sheet(library, library.list(Swatch) * 201)
