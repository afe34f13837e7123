"""How much of each pigment, as a share of what the maker is used to; the basis stands beside every number."""

from __future__ import annotations

import streamlit as st

from colormatch.basis import BASES, Amounts, MixProportions
from colormatch.recipes import Recipe
from colormatch.screens.blocks import amounts
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import kept_number
from colormatch.screens.work import Work
from colormatch.workshop.shelf import defaults


def how_much(recipe: Recipe, work: Work) -> None:
    """The choice of a basis, and the recipe in it."""
    basis = st.selectbox("Amounts as", BASES, **work.field("basis", BASES[0], among=BASES))
    sand, water = 0.0, defaults(library()).water_per_cement
    if "mix" in basis:
        kept_number(work, "sand", "Sand or filler, parts for 1 of cement", 0.0, high=20)
        sand = float(work.get("sand", 0.0))
    if "total" in basis:
        kept_number(work, "water", "Water, parts for 1 of cement", water, high=2)
        water = float(work.get("water", water))
    shown = Amounts(basis, MixProportions(sand, water))
    rows = [(recipe.palette.label(name), words) for name, words in shown.said(recipe.loads).items()]
    amounts([*rows, ("In all", shown.total(recipe.loads))])
