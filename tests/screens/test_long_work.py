"""Long work beside the page: told once, cancelled at its next step, and a mistake in it is a sentence."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event
from typing import Any

import pytest

from colormatch.errors import InputError
from colormatch.library import LearnedPalette
from colormatch.screens.long_work import Cancelled, LongWork

SLOT = "kept|demo|long.tiles"


def test_cancelled_work_stops_at_its_next_step() -> None:
    begun, cancelled, kept = Event(), Event(), []

    def work(progress: Callable[[float], None]) -> None:
        begun.set()
        assert cancelled.wait(10)
        progress(0.5)
        kept.append("changed")

    under_way = LongWork("Learning")
    under_way.start(work)
    assert begun.wait(10)
    under_way.cancel()
    cancelled.set()
    assert under_way.over.wait(10)
    assert isinstance(under_way.error, Cancelled)
    assert kept == []


def over(**how: Any) -> LongWork:
    work = LongWork("Learning", **how)
    work.over.set()
    return work


@pytest.mark.parametrize(
    ("how", "where", "words"),
    [({"error": Cancelled()}, "info", "Nothing was changed"), ({"error": InputError("No tile.")}, "error", "No tile")],
)
def test_it_is_told_once_at_its_place(open_page: Callable[..., Any], how: Any, where: str, words: str) -> None:
    page = open_page("tiles", typed={"long.tiles": over(**how)})
    assert any(words in each.value for each in page.get(where))
    assert SLOT not in page.session_state
    assert not any(words in each.value for each in page.run().get(where))


def test_what_takes_long_shows_that_it_goes_on_and_may_be_cancelled(open_page: Callable[..., Any]) -> None:
    page = open_page("tiles", typed={"tiles.view": "How sure"})
    before = len(page.button)
    slow = LongWork("Learning from what was measured")

    def work(progress: Callable[[float], None]) -> None:
        for step in range(4):
            progress(step / 4)
            Event().wait(0.2)

    slow.start(work)
    page.session_state[SLOT] = slow
    page.run()
    assert slow.error is None
    assert len(page.button) == before  # it ended by itself, and its Cancel went with it
    assert not page.error


def test_a_learning_that_is_cancelled_keeps_nothing(open_page: Callable[..., Any]) -> None:
    from colormatch.library import open_demo
    from colormatch.workshop.learned import learn

    with open_demo() as demo:
        before = demo.count(LearnedPalette)
        under_way = LongWork("Learning")

        def progress(share: float) -> None:
            if share > 0.5:
                under_way.cancel()
            under_way.progress(share)

        with pytest.raises(Cancelled, match=r"^Learning$"):
            learn(demo, progress=progress)
        assert demo.count(LearnedPalette) == before


def test_outside_a_session_nobody_guesses_which_library_is_open() -> None:
    """A file that is made when it is asked for, a thread of its own: the demo studio would be taken for hers."""
    from colormatch.screens.state import studio

    with pytest.raises(RuntimeError, match="Outside a session"):
        studio()
