"""A piece of a batch, fresh and dry: measured, judged, kept for learning, and its recipe corrected."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st

from colormatch.bench.batch import Tone
from colormatch.bench.cautions import caution_at
from colormatch.bench.demould import DemouldCheck, check_demould
from colormatch.difference import delta_e_2000
from colormatch.learning import dry_from_wet
from colormatch.library import BatchRecord, RecipeRecord
from colormatch.loads import Mix as BowlMix
from colormatch.palette import Palette
from colormatch.recipes import Limits, correct_next_batch
from colormatch.screens.drawing import Chip, plain, show_cautions, show_chips, show_table
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.keeping import keep_piece
from colormatch.screens.measuring import shade_asked, show_trust
from colormatch.screens.routes import turn_to
from colormatch.screens.state import Casting, Wanted, in_hand, start_with, take_to_batch
from colormatch.shade import Shade

WRITTEN_ON_IT = "what you would write under it"


@dataclass(frozen=True, slots=True)
class Mix:
    """One tone of a batch; without a recipe nothing is known of it but the cement."""

    name: str
    base: str
    recipe: RecipeRecord | None = None

    @property
    def loads(self) -> Mapping[str, float] | None:
        """g pigment per g dry cement, by name."""
        return None if self.recipe is None else self.recipe.loads

    @property
    def wanted(self) -> Shade | None:
        """The shade it was cast for."""
        return Shade(self.recipe.wanted_lab) if self.recipe is not None and self.recipe.wanted_lab else None


def fresh_piece(batch: BatchRecord, mix: Mix, known: Palette) -> None:
    """The piece as it leaves the mould: on track or not, and the dry shade it is heading for."""
    show_cautions([caution_at("Demould")])
    asked = shade_asked(
        "demould", "The shade of the fresh piece comes", state="demould", about=f"{batch.uid}|{mix.name}"
    )
    if not asked:
        return
    fresh = asked[0].shade
    if mix.loads is None:
        dry = dry_from_wet(known, fresh, None, base=mix.base)
        show_chips([Chip("Measured, fresh", fresh, asked[0].origin), Chip("It is heading for, dry", dry)])
    else:
        _judged(check_demould(known, mix.loads, mix.base, fresh), asked[0].origin)
    show_trust("demould")
    _keep_piece(batch, mix, asked[0], "demould")


def _judged(check: DemouldCheck, origin: str) -> None:
    st.subheader(check.track.capitalize())
    st.markdown(plain(check.words))
    show_chips(
        [
            Chip("Measured, fresh", check.measured, origin),
            Chip("Predicted, fresh", check.predicted, f"dE00 {check.delta_e:.1f} from the measured"),
            Chip("It is heading for, dry", check.dry_now),
            Chip("Predicted, dry", check.dry_planned, f"dE00 {check.dry_delta_e:.1f} from where it is heading"),
        ]
    )
    if check.causes:
        rows = [[cause.words, f"{cause.weight:.0%}", f"dE00 {cause.delta_e:.1f}"] for cause in check.causes]
        show_table(["What may have gone wrong", "How likely of these", "Moves the shade by"], rows)


def dry_piece(batch: BatchRecord, mix: Mix, known: Palette) -> None:
    """The dry piece: how near it came, kept for learning, and the recipe for the next batch."""
    about = f"{batch.uid}|{mix.name}"
    asked = shade_asked("finished", "The shade of the dry piece comes", state="dry", about=about)
    if not asked:
        return
    dry, loads, target = asked[0].shade, mix.loads, mix.wanted
    chips = [Chip("Measured, dry", dry, asked[0].origin)]
    chips += [Chip("Predicted, dry", known.predict(loads, mix.base, "dry"))] if loads is not None else []
    chips += [Chip("Wanted", target, f"dE00 {float(delta_e_2000(dry.lab, target.lab)):.1f} off")] if target else []
    show_chips(chips)
    show_trust("finished")
    _keep_piece(batch, mix, asked[0], "dry")
    if target is not None and loads is not None:
        _next_batch(batch, mix, dry, target, loads, known, about)


def _next_batch(
    batch: BatchRecord, mix: Mix, dry: Shade, target: Shade, loads: Mapping[str, float], known: Palette, about: str
) -> None:
    st.subheader("The next batch")
    if st.button("Correct the recipe for the next batch", key="finished.mend"):
        with guard(), st.spinner("Correcting"):
            limits = Limits(cement_g=batch.cement_g or 780.0)
            in_hand().mended[about] = correct_next_batch(known, loads, dry, target, base=mix.base, limits=limits)
    mended = in_hand().mended.get(about)
    if mended is None:
        return
    rows = [
        [known.pigments[name].label, f"{loads.get(name, 0.0):.2%}", f"{load:.2%}", f"{mended.grams.get(name, 0):g} g"]
        for name, load in mended.loads.items()
    ]
    show_table(["Pigment", "Last batch", "Next batch", f"In {mended.cement_g:g} g of cement"], rows)
    if st.button("Take it to the batch", key="finished.take"):
        name = f"{batch.name or 'batch'}, corrected"
        tone = Tone(name, BowlMix.of(mended.base, mended.loads))
        take_to_batch(Casting(name, (tone,), mended.cement_g, wanted=target))
        turn_to("batch")


def _keep_piece(batch: BatchRecord, mix: Mix, asked: Wanted, state: str) -> None:
    place = "demould" if state == "demould" else "finished"
    show_notice(place)
    name = st.text_input("Name of the piece", key=start_with(f"{place}.name", ""), placeholder=WRITTEN_ON_IT)
    if st.button("Keep this piece as a swatch", key=f"{place}.keep"):
        with guard():
            measured = in_hand().measured.get(place)
            swatch = keep_piece(batch, mix.recipe, asked, measured, name=name, state=state)
            say_then_draw(place, f"Kept: {swatch.name}. The next learning counts it.")
