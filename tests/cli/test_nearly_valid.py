"""Numbers that are nearly valid: taken, or refused in a sentence; no command hangs, none is at fault."""

import itertools

import pytest

from colormatch.cli import main
from colormatch.library import Cement, PigmentRecord, open_library

NUMBERS = [
    "", " ", "0", "-0", "-1", "1e-400", "1e309", "nan", "NaN", "inf", "-inf", "1_000", "1,5", "1.5.5", "1e5", "0x10",
    "１２", "٣", "½", "2%%", "2 %", "%", "g", "1g", "1kg", "1e3kg", "20g/kg", "1/0", "--", "-", "+", "+1", "9" * 20,
    "1" * 400, "0." + "0" * 400 + "1", "\u00a01", "1\n", "\x00", "1e", "e1", "1,250", "1.250", "1 250", "None", "True",
]  # fmt: skip
PLACES = {
    "lab": ("recipe", "--lab", "{},18,20"),
    "lab a": ("recipe", "--lab", "52,{},20"),
    "hex": ("recipe", "--hex", "#{}"),
    "cement": ("recipe", "--lab", "52,18,20", "--cement", "{}"),
    "step": ("recipe", "--lab", "52,18,20", "--step", "{}"),
    "cap": ("recipe", "--lab", "52,18,20", "--cap", "{}"),
    "most": ("recipe", "--lab", "52,18,20", "--most", "{}"),
    "use": ("recipe", "--lab", "52,18,20", "--use", "{}"),
    "load": ("preview", "red-iron-oxide={}"),
    "name": ("preview", "{}=2"),
    "count": ("next-tiles", "--lab", "52,18,20", "--count", "{}"),
    "region": ("shade", "nowhere.jpg", "--region", "0,0,{},10"),
    "grey": ("shade", "nowhere.jpg", "--region", "0,0,9,9", "--grey-factor", "{}"),
    "day": ("drying", "0=412", "{}=401", "2=395"),
    "mass": ("drying", "0=412", "1={}", "2=395"),
    "scale": ("drying", "0=412", "1=401", "2=395", "--step", "{}"),
    "target": ("demo", "--target", "{}"),
    "port": ("page", "--no-show", "--address", "192.0.2.1", "--port", "{}"),
    "stock": ("shelf", "jar", "Jar", "--stock", "{}"),
    "price": ("shelf", "jar", "Jar", "--price", "{}"),
    "volume": ("shelf", "mould", "Mould", "--volume", "{}"),
}
HAVE_A_LIBRARY = {"recipe", "preview", "next-tiles", "shelf"}


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    """A library with one cement and three jars: few, so that each search is short."""
    folder = tmp_path_factory.mktemp("studio")
    with open_library(folder) as library:
        library.save(Cement(uid="white-cement", name="White cement"))
        for name in ("red-iron-oxide", "yellow-iron-oxide", "carbon-black"):
            library.save(PigmentRecord(uid=name, name=name))
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("place", PLACES)
def test_taken_or_said(place, studio, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for number in NUMBERS:
        arguments = [part.replace("{}", number) for part in PLACES[place]]
        if arguments[0] in HAVE_A_LIBRARY:
            arguments += ["--library", str(studio)]
        with pytest.raises(SystemExit, match=r"^[02]$|^None$") as left:
            main(arguments)
        said = capsys.readouterr()
        assert "not your fault" not in said.err, arguments
        assert "Traceback" not in said.err, arguments
        assert (left.value.code == 2) == bool(said.err.strip()), arguments


def test_there_are_enough_of_them():
    assert len(list(itertools.product(PLACES, NUMBERS))) > 900
