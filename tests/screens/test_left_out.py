"""What an older version kept and nothing can be learned from is named on the first page, and mended or binned."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.library import ShadeRecord, TileRecord
from colormatch.studio import left_out
from colormatch.workshop.materials import add_bag, add_jar


@pytest.fixture
def older(own_library: Any) -> Any:
    base, red = add_bag(own_library, "White").uid, add_jar(own_library, "Red").uid
    for uid, load in (("sound", 0.02), ("heavy", 0.03), ("moist", 0.02)):
        own_library.save(TileRecord(uid=uid, cement_uid=base, loads={red: load}))
        measured = {"provenance": {"kind": "measured"}, "lab": (55, 20, 12)}
        own_library.save(ShadeRecord(uid=f"shade-{uid}", tile_uid=uid, **measured))
    with own_library.database.writing() as connection:
        connection.exec_driver_sql("UPDATE tiles_loads SET amount = 1.0 WHERE owner_uid = 'heavy'")
        connection.exec_driver_sql("UPDATE shades SET state = 'moist' WHERE uid = 'shade-moist'")
    return own_library


def pressed(page: Any, key: str) -> Any:
    next(each for each in page.button if str(each.key).endswith(key)).click().run()
    assert not page.exception
    return page


def test_the_first_page_names_them_and_leads_to_them(open_page: Callable[..., Any], older: Any) -> None:
    page = open_page("start", library="own")
    assert any("2 measured shades are left out" in each.value for each in page.html)


def test_one_is_mended_and_one_put_in_the_bin(open_page: Callable[..., Any], older: Any) -> None:
    page = open_page("studio", library="own", address={"part": "library"})
    assert any("moist" in each.value for each in page.html)
    assert any(each.label == "Red, % of the cement" and each.value == "100" for each in page.text_input)
    pressed(page, "heavy.1.mend")
    assert "10" in page.error[0].value
    next(each for each in page.text_input if each.value == "100").set_value("3,5")
    pressed(page, "heavy.1.mend")
    assert "Mended" in page.success[0].value
    assert list(older.get(TileRecord, "heavy").loads.values()) == [0.035]
    assert [record.uid for record, _ in left_out(older)] == ["shade-moist"]
    pressed(page, "moist.1.away")
    assert left_out(older) == []
    assert not any("Left out" in each.value for each in page.header)
