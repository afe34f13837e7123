"""The key of the shared page: kept, renewed, compared."""

import os
import stat

import pytest

from colormatch.errors import InputError
from colormatch.serving import access


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr(access, "data_folder", lambda: tmp_path / "colormatch" / "library")
    return tmp_path


def test_alone_on_this_machine_needs_no_key():
    page = access.begin("http://127.0.0.1:8501", share=False)
    assert not page.shared
    assert page.link == "http://127.0.0.1:8501"
    assert page.admits(None)


def test_the_key_is_long_kept_for_the_next_start_and_readable_by_its_owner_only(own_folder):
    first = access.begin("http://192.0.2.7:8501", share=True)
    assert len(first.key) >= 22  # 128 bits in base 64
    assert first.link == f"http://192.0.2.7:8501/?key={first.key}"
    assert access.begin("http://192.0.2.7:8501", share=True).key == first.key
    file = own_folder / "colormatch" / "page.key"
    assert file.read_text() == first.key
    if os.name == "posix":
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_renewed_key_shuts_the_old_one_out():
    page = access.begin("http://192.0.2.7:8501", share=True)
    old = page.key
    page.renew()
    assert page.key != old
    assert not page.admits(old)
    assert page.admits(page.key)
    assert access.begin("http://192.0.2.7:8501", share=True).key == page.key
    assert access.begin("http://192.0.2.7:8501", share=True, new_key=True).key != page.key


@pytest.mark.parametrize("given", [None, "", "x", "\u00e9", "k" * 10_000])
def test_nothing_else_is_let_in(given):
    assert not access.begin("http://192.0.2.7:8501", share=True).admits(given)


def test_a_damaged_key_file_is_replaced(own_folder):
    file = own_folder / "colormatch" / "page.key"
    file.parent.mkdir()
    file.write_bytes(b"\xff\xfe")
    assert len(access.begin("http://192.0.2.7:8501", share=True).key) >= 22


def test_a_key_that_cannot_be_kept_is_a_sentence(own_folder):
    (own_folder / "colormatch").write_text("a file where the folder should be")
    with pytest.raises(InputError, match=r"could not be kept .* without --share"):
        access.begin("http://192.0.2.7:8501", share=True)
