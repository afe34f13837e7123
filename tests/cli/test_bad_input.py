"""What cannot be used is one sentence and status 2, and nothing is made or changed."""

import pytest
from PIL import Image

BAD = {
    "no target": ["recipe"],
    "two targets": ["recipe", "--lab", "50,0,0", "--hex", "#808080"],
    "not numbers": ["recipe", "--lab", "50,zero,0"],
    "not a number": ["recipe", "--lab", "50,nan,0"],
    "not a colour": ["recipe", "--lab", "500,0,0"],
    "bad hex": ["recipe", "--hex", "#12"],
    "missing file": ["recipe", "--photo", "missing.jpg", "--region", "0,0,9,9"],
    "no region": ["recipe", "--photo", "missing.jpg"],
    "unknown base": ["recipe", "--lab", "50,0,0", "--base", "clay"],
    "unknown pigment": ["recipe", "--lab", "50,0,0", "--use", "beetroot"],
    "cap too high": ["recipe", "--lab", "50,0,0", "--cap", "20"],
    "negative cap": ["recipe", "--lab", "50,0,0", "--cap", "-1"],
    "no cement": ["recipe", "--lab", "50,0,0", "--cement", "0"],
    "too many pigments": ["recipe", "--lab", "50,0,0", "--most", "9"],
    "negative load": ["preview", "red-iron-oxide=-1"],
    "load over cap": ["preview", "red-iron-oxide=30"],
    "load is nan": ["preview", "red-iron-oxide=nan"],
    "load without number": ["preview", "red-iron-oxide"],
    "unknown pigment in a preview": ["preview", "beetroot=2"],
    "nothing to learn from": ["learn"],
    "no shades in demand": ["next-tiles"],
    "import of nothing": ["library", "import", "nowhere"],
    "a load twice": ["preview", "red-iron-oxide=1", "red-iron-oxide=2"],
    "an empty list of pigments": ["recipe", "--lab", "50,0,0", "--use", ""],
    "a card that is a folder": ["recipe", "--lab", "50,0,0", "--card", "studio"],
    "a card of no known kind": ["recipe", "--lab", "50,0,0", "--card", "card.xyz"],
    "a card without a name": ["recipe", "--lab", "50,0,0", "--card", ""],
    "tiles on an unknown cement": ["next-tiles", "--lab", "50,0,0", "--base", "clay"],
    "an address that is none": ["page", "--address", "nope"],
}


@pytest.mark.parametrize("arguments", BAD.values(), ids=BAD)
def test_bad_input_is_one_sentence_and_status_2(run, arguments):
    status, _, err = run(*arguments)
    assert status == 2
    assert 0 < len(err.strip().splitlines()) <= 2
    assert "Traceback" not in err
    assert "not your fault" not in err


BAD_PICTURES = {"not a picture": b"this is no picture", "empty": b"", "cut off": b"\xff\xd8\xff\xe0\x00\x10JFIF"}


@pytest.mark.parametrize("content", BAD_PICTURES.values(), ids=BAD_PICTURES)
def test_a_bad_picture_is_one_sentence(run, tmp_path, content):
    (tmp_path / "pot.jpg").write_bytes(content)
    status, _, err = run("shade", "pot.jpg", "--region", "0,0,9,9", library=False)
    assert status == 2
    assert len(err.strip().splitlines()) == 1


def test_a_region_outside_the_picture_is_one_sentence(run, tmp_path):
    Image.new("RGB", (100, 80), (150, 100, 80)).save(tmp_path / "pot.png")
    status, _, err = run("shade", "pot.png", "--region", "50,50,500,500", "--grey", "0,0,20,20", library=False)
    assert status == 2
    assert "100" in err


def test_a_chart_and_a_grey_card_together_are_refused(run, tmp_path):
    Image.new("RGB", (100, 80), (150, 100, 80)).save(tmp_path / "pot.png")
    both = ["--grey", "0,0,20,20", "--corners", "0,0,50,0,50,50,0,50"]
    status, _, err = run("shade", "pot.png", "--region", "50,50,70,70", *both, library=False)
    assert (status, "not both" in err) == (2, True)


def test_a_backup_that_is_not_there_is_not_called_damaged(run):
    status, _, err = run("library", "restore", "nowhere.backup", "again", library=False)
    assert (status, "There is no file nowhere.backup" in err) == (2, True)


def test_a_mistyped_library_is_not_made(run, tmp_path):
    for arguments in (["library", "where"], ["recipe", "--lab", "50,0,0"], ["learn"], ["page"]):
        status, _, err = run(*arguments, "--library", "elsewhere", library=False)
        assert status == 2
        assert "no library" in err
    assert not (tmp_path / "elsewhere").exists()
    assert run("library", "new", "elsewhere", library=False)[0] == 0
    assert "empty" in run("library", "where", "--library", "elsewhere", library=False)[1]
