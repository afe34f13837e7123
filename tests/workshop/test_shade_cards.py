"""A shade card from a table: as it is typed, and as spreadsheets write it."""

import pytest

from colormatch.errors import InputError
from colormatch.workshop.shade_cards import read_shade_card


@pytest.mark.parametrize("table", ["name,L,a,b\nRust,45.5,20,-1.5\n", "name;L;a;b\r\nRust;45,5;20;-1,5\r\n"])
def test_points_and_commas_are_read_alike(table):
    assert read_shade_card(table.encode(), "card.csv")["Rust"].lab.tolist() == [45.5, 20, -1.5]


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("name,L,a,b\nRust,,20,10\n", r"Line 2 of 'card.csv' has no shade \(l '', a '20', b '10'\)"),
        ("name,L,a,b\nRust,450,20,10\n", r"Line 2 .*l '450'.* L \(0 to 100\)"),
        ("name,hex\nRust,#a04030\nMoss,green\n", r"Line 3 of 'card.csv' has no shade \(hex 'green'\)"),
        ("name\nRust\n", "Line 2 of 'card.csv' has no shade. Fill in"),
    ],
)
def test_a_line_without_a_shade_is_named_with_what_stands_there(table, said):
    with pytest.raises(InputError, match=said):
        read_shade_card(table.encode(), "card.csv")
