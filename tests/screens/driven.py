"""What tests of the page do over and over in Streamlit's own driver, and a batch to do it with."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, Piece
from colormatch.loads import Mix
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.workshop.casting import cast
from colormatch.workshop.plans import Casting, keep_plan, plan
from colormatch.workshop.shelf import shelf
from colormatch.workshop.weighing import begin_bowl, put_sure, zeroed

WANTED = Shade((50, 18, 14))


def planned(library: Any, title: str, loads: list[dict[str, float]], pieces: int = 1) -> BatchRecord:
    base, known = shelf(library).cements[0].uid, studio_palette(library)
    jars = {each.name: each.uid for each in shelf(library).pigments}
    tones = tuple(
        Tone(f"tone {i}", Mix.of(base, {jars[name]: load for name, load in own.items()}), 1 / len(loads))
        for i, own in enumerate(loads, start=1)
    )
    casting = Casting(title, tones, wanted=WANTED if len(loads) == 1 else None)
    return keep_plan(library, known, plan(library, known, casting, pieces=pieces))


def poured(library: Any, batch: BatchRecord, more: float = 1.0) -> list[Piece]:
    """Weighed as planned (the first pigment `more` times as much, and left so) and cast ten days ago."""
    from colormatch.workshop.weighing import settle, slip_of

    known = studio_palette(library)
    for number in range(1, 3):
        try:
            bowl = zeroed(library, begin_bowl(library, batch, number))
        except Exception:
            break
        first = True
        while not bowl.state.done:
            if bowl.state.over:
                bowl = settle(library, bowl, slip_of(known, bowl), correct=False)
                continue
            step = bowl.step
            factor = more if step.kind == "pigment" and first else 1.0
            first = first and step.kind != "pigment"
            bowl = put_sure(library, bowl, round(step.grams * factor, 1))
    return cast(library, batch, at=datetime.now(UTC) - timedelta(days=10))


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    assert not page.exception
    return page


def labels(page: Any) -> list[str]:
    return [each.label for each in page.button]


def shown(page: Any) -> str:
    return " ".join(each.value for each in (*page.html, *page.markdown)).replace("\\", "")


def reading(page: Any, text: str, button: str = "Next") -> Any:
    next(each for each in page.text_input if each.label == "The scale shows, g").set_value(text)
    return press(page, button)
