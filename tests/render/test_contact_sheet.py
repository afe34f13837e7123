"""A contact sheet shows the colours that were measured, each state of a swatch beside the others."""

from datetime import date

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


def test_of_two_shades_of_one_day_the_later_is_shown(library):
    cup, day = library.save(Swatch(name="Cup")), date(2026, 11, 20)
    for uid, lab, second in (("b", (40, 30, 0), 1), ("a", (60, 0, 30), 2)):
        kept = {"kept_at": f"2026-11-20T10:00:0{second}+00:00"}
        library.save(ShadeRecord(uid=uid, swatch_uid=cup.uid, lab=lab, measured_on=day, provenance=kept))
    colours = {colour for _, colour in contact_sheet(library, [cup]).getcolors(1 << 20)}
    later, earlier = (
        tuple(round(255 * float(part)) for part in lab_to_srgb(lab)) for lab in ((60, 0, 30), (40, 30, 0))
    )
    assert later in colours
    assert earlier not in colours


def test_none_or_too_many_are_refused(library):
    with pytest.raises(LibraryError, match="shows 1 to 400 swatches, not 0"):
        contact_sheet(library, [])
    with pytest.raises(LibraryError, match="not 402"):
        contact_sheet(library, library.list(Swatch) * 201)
