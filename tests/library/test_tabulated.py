"""Records as text and back: whatever the content, the same comes back."""

import csv
import io
from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.library import KINDS, Mould, Record, ShadeRecord, tabulated
from colormatch.library.exchange import IN_CSV
from colormatch.library.fields import specs
from colormatch.library.plain import checked, plain, record_from
from colormatch.library.values import cell_of, text_in

letters = st.characters(exclude_categories=["Cs"], exclude_characters="\x00")
texts = st.text(letters, max_size=30) | st.sampled_from(
    ["=1", "'", "''=", "-1", "\r\n", " x ", '"', ",", "\ufeff", "0"]
)
uids = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,12}", fullmatch=True)
numbers = st.floats(allow_nan=False, allow_infinity=False)
free = st.recursive(
    st.booleans() | st.integers(-(2**53), 2**53) | numbers | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=8,
)
days = st.dates(date(1900, 1, 1))
moments = st.datetimes(datetime(1900, 1, 2), datetime(9000, 1, 1), timezones=st.just(UTC))


def covariance(root):
    return root @ root.T


matrices = st.lists(st.floats(-5, 5), min_size=9, max_size=9).map(lambda x: covariance(np.reshape(x, (3, 3))))


def values(spec):
    """Anything that a field may hold."""
    low, high = getattr(spec, "low", None), getattr(spec, "high", None)
    low, high = -1e12 if low is None else low, 1e12 if high is None else high
    return {
        "text": texts.filter(lambda t: t.strip() or not spec.required).map(lambda t: t[:12]),
        "number": st.floats(low, high),
        "whole": st.integers(int(low), 2**53),
        "flag": st.booleans(),
        "day": days,
        "moment": moments,
        "reference": uids,
        "loads": st.dictionaries(uids, st.floats(0, 0.025), max_size=4),
        "names": st.lists(uids if spec.kind else texts, max_size=4),
        "lab": st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)),
        "numbers": st.lists(st.floats(max(low, 0), 1000), max_size=4),
        "matrix": st.just(()) | matrices,
        "free": st.dictionaries(texts, free, max_size=3),
        "blob": st.binary(max_size=20),
    }[type(spec).__name__.lower()]


@st.composite
def records(draw, kind):
    content = {}
    for name, spec in specs(kind).items():
        if spec.required or draw(st.booleans()):
            content[name] = draw(values(spec))
    if kind is ShadeRecord:
        content["swatch_uid"], content["tile_uid"] = "pot", None
        nm = sorted({400.0, 700.0, *content["wavelength_nm"]}) if content.get("wavelength_nm") else ()
        content["wavelength_nm"], content["reflectance"] = nm, [0.5] * len(nm)
        content["state"] = draw(st.sampled_from(["dry", "wet", "sealed:=wax"]))
    if kind is Mould:
        content["cement_g"] = 480.0
    return checked(kind(uid=draw(uids), **content))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.KIND)
@settings(max_examples=15)
@given(data=st.data())
def test_plain_content_and_text_come_back_the_same(kind, data):
    found = data.draw(st.lists(records(kind), max_size=2, unique_by=lambda each: each.uid))
    assert [record_from(kind, plain(each), uid=each.uid) for each in found] == found
    as_toml = tabulated.from_toml(kind, tabulated.to_toml(kind, found), "file")
    assert [without_payload(each) for each in as_toml] == [without_payload(each) for each in found]
    if kind.KIND in IN_CSV:
        as_csv = tabulated.from_csv(kind, tabulated.to_csv(kind, found), "file")
        assert [in_csv(each) for each in as_csv] == [in_csv(each) for each in found]


def without_payload(record: Record) -> dict:
    return plain(record) | {"payload": None}


def in_csv(record: Record) -> dict:
    """What a CSV holds: not the payload, and spectra are in a file of their own."""
    return without_payload(record) | {"wavelength_nm": None, "reflectance": None}


@given(texts)
def test_no_spreadsheet_takes_a_shielded_text_for_a_formula(text):
    shielded = cell_of(text)
    assert text_in(shielded) == text
    assert not shielded.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


@given(st.lists(st.lists(texts, min_size=2, max_size=4), min_size=1, max_size=4))
def test_csv_is_read_alike_by_the_standard_library(lines):
    text = tabulated.csv_text(lines)
    assert list(csv.reader(io.StringIO(text, newline=""))) == lines


@given(
    st.dictionaries(uids, st.dictionaries(st.floats(200, 2500), st.floats(0, 2), min_size=1, max_size=5), max_size=4)
)
def test_spectra_come_back_the_same(spectra):
    text = tabulated.to_spectra_csv(list(spectra.items()))
    found = tabulated.from_spectra_csv(text, "spectra.csv")
    assert {uid: dict(zip(nm, r, strict=True)) for uid, (nm, r) in found.items()} == spectra
