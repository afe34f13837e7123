"""The audit of what is installed: it finds a known fault and a licence that binds, and prints every package."""

import importlib.util
from importlib.machinery import SourceFileLoader
from importlib.metadata import version
from pathlib import Path

import pytest

FILE = Path(__file__).resolve().parents[1] / ".ci" / "audit"


@pytest.fixture
def audit():
    pytest.importorskip("packaging")
    loader = SourceFileLoader("audit", str(FILE))
    module = importlib.util.module_from_spec(importlib.util.spec_from_loader("audit", loader))
    loader.exec_module(module)
    return module


def test_a_version_with_a_known_fault_is_named(audit, tmp_path, monkeypatch, capsys):
    listed = tmp_path / "advisories.csv"
    listed.write_text("# pinned\npackage,fixed_in,id\nnumpy,99.0,CVE-0000-0\n")
    monkeypatch.setattr(audit, "ADVISORIES", listed)
    assert audit.main() == 1
    assert f"numpy {version('numpy')}: CVE-0000-0, mended in 99.0" in capsys.readouterr().out


def test_a_licence_that_binds_is_named(audit, monkeypatch, capsys):
    monkeypatch.setattr(audit, "licence", lambda package: "GPL-3.0-only")
    assert audit.main() == 1
    assert "its licence is GPL-3.0-only" in capsys.readouterr().out
