"""What recipes are asked for: her shelf, her cement, her scale; what differs this time is kept with the work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from colormatch.bench.batch import Tone
from colormatch.errors import InputError
from colormatch.loads import Mix
from colormatch.palette import Palette
from colormatch.recipes import Limits, explain_reach, find_recipes
from colormatch.recipes.limits import USUAL_CEMENT_G
from colormatch.screens.bench_plan import usual_plan
from colormatch.screens.state import Found, Wanted
from colormatch.screens.studios import library, offered, palette
from colormatch.screens.work import Work
from colormatch.workshop.lights import light
from colormatch.workshop.plans import Casting
from colormatch.workshop.shelf import Suggestion, defaults, limits, shelf, worth_buying

ANOTHER_LAMP = "another"  # one that the maker names


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """A question for recipes: of what is on her shelf, of which cement, for which state, within which limits.

    usual: the studio's limits; changed: what differs this time. light: the one pieces are seen in, "" for daylight.
    """

    palette: Palette
    base: str
    state: str
    usual: Limits
    changed: Mapping[str, Any]
    light: str = ""

    @property
    def limits(self) -> Limits:
        """Both together; RecipeError or LoadError where they contradict each other."""
        return replace(self.usual, **self.changed)

    @property
    def question(self) -> str:
        """The same for the same question, whatever the shade."""
        return repr((self.base, self.state, self.limits, self.light))

    def stamp(self, wanted: Wanted) -> str:
        """The same for the same question of the same shade."""
        shade = wanted.shade
        return repr((shade.lab.tolist(), shade.covariance.tolist(), wanted.spectrum)) + self.question

    def find(self, wanted: Wanted, stamp: str) -> Found:
        """Recipes, best first, and where none comes near, why."""
        recipes = find_recipes(
            self.palette, wanted.shade, base=self.base, limits=self.limits, state=self.state,
            lights=[light(library(), self.light)] if self.light else [], spectrum=wanted.spectrum,
        )  # fmt: skip
        reach, buy = None, tuple[Suggestion, ...]()
        if not any(recipe.in_reach for recipe in recipes):
            reach = explain_reach(
                self.palette, wanted.shade, base=self.base, limits=self.limits, state=self.state,
                nearest=recipes[0].nearest, buying=False,
            )  # fmt: skip
            buy = worth_buying(library(), palette(), [wanted.shade], self.base, self.limits, state=self.state)
        return Found(tuple(recipes), wanted, reach, stamp, self.palette, tuple(each.words for each in buy))


def asked_for(work: Work) -> Asked | None:
    """The question as it stands, from the studio's defaults and what was changed this time; None: an empty shelf."""
    if shelf(library()).empty:
        return None
    known = offered()
    cements, pigments = tuple(known.bases), tuple(known.pigments)
    base = work.get("base") if work.get("base") in cements else cements[0]
    state = work.get("state") if work.get("state") in known.states else "dry"
    usual = limits(
        library(),
        known,
        cement_g=work.get("cement_g", _usual_cement_g(base)),
        max_pigments=int(work.get("most", 4)),
        within_stock=work.get("in_stock", True),
    )
    changed: dict[str, Any] = {
        "must_use": [name for name in work.get("must", []) if name in pigments],
        "never_use": [name for name in work.get("never", []) if name in pigments and name not in work.get("must", [])],
        "fixed_loads": {name: load for name, load in work.get("fixed", {}).items() if name in pigments},
    }
    if work.get("cap_percent") is not None:
        changed["load_cap"] = work.get("cap_percent") / 100
    if work.get("step_g") is not None:
        changed["scale_step_g"] = work.get("step_g")
    return Asked(known, base, state, usual, changed, light_asked(work))


def light_asked(work: Work) -> str:
    """The light the piece will be seen in: as chosen this time, else the studio's."""
    chosen = str(work.get("light", defaults(library()).light))
    return str(work.get("lamp", "")).strip() if chosen == ANOTHER_LAMP else chosen


def _usual_cement_g(base: str) -> float:
    """Dry cement of one filling of her usual mould, which the doses are rounded for."""
    try:
        return usual_plan(Casting("", (Tone("", Mix.of(base, {})),)), palette()).batch.cement_g
    except InputError:  # a mould without an amount: its own place says so
        return USUAL_CEMENT_G
