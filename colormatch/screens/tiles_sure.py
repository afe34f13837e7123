"""How sure each of her jars is: its tints with their likely range drawn; learning by itself, and its undo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
import streamlit as st

from colormatch.arrays import FloatArray
from colormatch.colorimetry import lab_to_hex
from colormatch.difference import expected_delta_e
from colormatch.learning import Report, Tile, lot_drift, tint_ladder
from colormatch.library import TileRecord
from colormatch.loads import TINT_LADDER, per_cent
from colormatch.palette import Palette
from colormatch.render import likely_ends
from colormatch.saying import shade_name
from colormatch.screens.blocks import amounts, answer, card, head, line_and_button
from colormatch.screens.drawing import plain
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.long_work import begin, ended
from colormatch.screens.state import in_hand, kept
from colormatch.screens.studios import library
from colormatch.shade import Shade
from colormatch.studio import newest_learned, studio_tiles
from colormatch.workshop.learned import Learned, learn, undo_learning
from colormatch.workshop.lots import Question, accept, new_lots, questions, take_back
from colormatch.workshop.shelf import Material, Shelf

NEAR = 0.15  # of its load: a measured tile is drawn on the tint it is nearest to


def learn_now(first: str = "") -> None:
    """Learn from everything measured, kept as a new version, beside the page; `first`: what is to be said before."""
    opened = library()
    begin("tiles", "Learning from what was measured", lambda progress: (first, learn(opened, progress=progress)))


def learning_part() -> None:
    """The learning under way, and once what came of it; what it asks about."""
    with guard():
        if (done := ended("tiles")) is not None:
            first, found = done
            in_hand().report = found.report
            say_then_draw("tiles", " ".join(filter(None, (first, _learned_words(found)))))
    show_notice("tiles")
    for number, question in enumerate(questions(library())):
        _asked(number, question)


def _learned_words(found: Learned) -> str:
    words = f"Learned from {len(found.report.tiles)} measured shades. {found.words}"
    for one in found.report.suspects[:2]:
        words += f" Left aside: {one.title}; {one.reason}."
    return words


def _asked(number: int, question: Question) -> None:
    """A new bag or jar? One press makes it and learns again."""
    title, _, why = question.words.partition("? ")
    with card(f"lot-{number}"):
        head(f"{title}?", why)
        if st.button(f"Yes, a new {question.kind}", type="primary", width="stretch", key=f"tiles.lot.{number}"):
            with guard():
                new = accept(library(), question)
                learn_now(f"On the shelf: {new.name}.")


def learned_line() -> None:
    """What was measured since the last learning is learned; one tap takes the last learning back."""
    newest = newest_learned(library())
    if newest is None or newest.learned_on is None:
        return
    words = f"Learned on {newest.learned_on.day} {newest.learned_on:%B}, the {_nth(newest.number or 1)} time."
    if line_and_button(words, "Undo this learning", "tiles.unlearn"):
        with guard():
            in_hand().report = None
            say_then_draw("tiles", f"{undo_learning(library())} The tiles are still there.")


def _nth(number: int) -> str:
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def sure_part(here: Shelf, known: Palette) -> None:
    """Her jars, the least sure first."""
    base = here.cements[0].uid
    jars = [(jar, _tints(known, jar.uid, base)) for jar in here.pigments if jar.uid in known.pigments]
    jars.sort(key=lambda pair: -pair[1].off.mean())
    answer(
        "How far a tint may be off.",
        "Each chip: predicted in the middle, above and below how far it may go. Bands that look alike are sure.",
    )
    tiles = studio_tiles(library())
    st.html(f'<div class="tiles-jars">{"".join(_strip(jar, base, tints, known, tiles) for jar, tints in jars)}</div>')
    if library().count(TileRecord) and st.button("Learn again from all tiles", width="stretch", key="tiles.learn"):
        with guard():
            learn_now()
    report = in_hand().report
    if report is not None:
        _found(report)
    _new_lots()
    _lots(here, known)


def _found(report: Report) -> None:
    """What the latest learning found, in numbers."""
    with st.expander("What the learning found"):
        rows = [
            ("Measured shades learned from", str(len(report.tiles))),
            ("Off on average", f"{report.mean_delta_e:.1f}"),
            ("Scatter from cast to cast", f"± {report.cast_sd:.1f}"),
        ]
        if report.coverage is not None:
            rows.append(
                ("Inside the likely range predicted from the others (90 % is right)", per_cent(report.coverage, 0))
            )
        amounts(rows)
        for one in report.suspects:
            st.warning(plain(f"Left aside: {one.title}, {one.delta_e:.1f} from what the others predict; {one.reason}."))
        for warning in report.warnings:
            st.warning(plain(warning))


@dataclass(frozen=True, slots=True, eq=False)
class _Tints:
    """A jar at rising loads: its dry shades, and how far off each is to be expected, off (n,) in CIEDE2000."""

    loads: list[float]
    shades: list[Shade]
    off: FloatArray


def _tints(known: Palette, jar: str, base: str) -> _Tints:
    loads = tints_of(known, jar)
    rows = np.stack([known.load_vector({jar: load}) for load in loads])
    labs, covariances = known.predict_with_covariance(rows, base=base)
    shades = [Shade(lab, covariance=covariance) for lab, covariance in zip(labs, covariances, strict=True)]
    return _Tints(loads, shades, expected_delta_e(labs, labs, covariances))


def tints_of(known: Palette, jar: str) -> list[float]:
    """Rising loads to show a jar at, up to its own maximum."""
    most = known.pigments[jar].maximum_load
    return [load for load in TINT_LADDER if load <= most + 1e-9] or [most]


def _strip(jar: Material, base: str, tints: _Tints, known: Palette, tiles: Sequence[Tile]) -> str:
    """One jar as a row of tints: lighter end, predicted, darker end; measured tiles as a dot on it."""
    ladder = tint_ladder(known, jar.uid, tiles, base=base)
    columns = []
    for load, shade, off in zip(tints.loads, tints.shades, tints.off, strict=True):
        lighter, darker = likely_ends(shade)
        seen = [i for i, x in enumerate(ladder.measured_loads) if abs(x - load) <= NEAR * load]
        dot = f'<u style="background:{lab_to_hex(ladder.measured[seen[0]])}"></u>' if seen else ""
        says = f"{100 * load:g} %: {shade_name(shade.lab)}, about {off:.0f} off"
        columns.append(
            f'<li><div role="img" aria-label="{escape(says)}"><i style="background:{lab_to_hex(lighter)}"></i>'
            f'<i style="background:{lab_to_hex(shade.lab)}">{dot}</i><i style="background:{lab_to_hex(darker)}"></i>'
            f"</div><span>{100 * load:g} %</span></li>"
        )
    cast = sum(tile.loads.get(jar.uid, 0.0) > 0 for tile in tiles)
    words = f"in {cast} measured tile{'s' if cast != 1 else ''}" if cast else "not tested yet"
    return (
        f'<div class="tiles-jar"><b>{escape(jar.name)}</b><small>about {tints.off.mean():.1f} off; {words}</small>'
        f"<ol>{''.join(columns)}</ol></div>"
    )


def _new_lots() -> None:
    """Each bag or jar that began as another one, and the way back."""
    for new, old in new_lots(library()):
        words = f"{new.name} began from {old.name} and is learned on its own."
        if line_and_button(words, "Undo: it is the same", f"tiles.lot.back.{new.uid}"):
            with guard():
                take_back(library(), new)
                learn_now(f"Undone: its tiles are {old.name} again.")


def _lots(here: Shelf, known: Palette) -> None:
    """How far a new lot, entered as a jar of its own, lies from the old one."""
    with st.expander("Compare two jars or two bags"):
        names = {each.uid: each.name for each in (*here.pigments, *here.cements)}
        old = st.selectbox("The old one", list(names), format_func=names.__getitem__, key=kept("tiles.old"))
        new = st.selectbox(
            "The new one", list(names), index=None, format_func=names.__getitem__, key=kept("tiles.new_lot")
        )
        if old and new and old != new and st.button("Compare", key="tiles.drift"):
            with guard():
                st.markdown(plain(lot_drift(known, old, new).text(known.label)))
