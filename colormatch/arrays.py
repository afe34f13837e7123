"""The gate for numbers coming in: arrays of the right shape, finite, within range."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .errors import InputError

FloatArray: TypeAlias = NDArray[np.float64]

SCALE_STEPS_G = (0.0001, 50.0)  # from a balance's to a platform's; common practice, no source


def finite_array(value: ArrayLike, *, name: str, shape: Sequence[int | None]) -> FloatArray:
    """Return `value` as a float array of the wanted shape.

    `shape` holds sizes, None for "any"; a leading Ellipsis is not needed because `None` entries
    are counted. Raises InputError when the shape differs or any entry is not a finite number.
    """
    array = _floats(value, name)
    if array.ndim != len(shape) or any(w not in (None, n) for w, n in zip(shape, array.shape, strict=True)):
        shown = "(" + ", ".join("any" if w is None else str(w) for w in shape) + ")"
        raise InputError(f"{name} must have shape {shown}, but got shape {array.shape}.")
    if not np.isfinite(array).all():
        raise InputError(
            f"{name} must be finite numbers, not {_shorten(array)}. "
            "Check the measurement it came from and enter it again."
        )
    return array


def last_axis(value: ArrayLike, *, name: str, size: int) -> FloatArray:
    """Return `value` as a float array whose last axis has `size` entries (any leading axes)."""
    array = _floats(value, name)
    if array.ndim == 0 or array.shape[-1] != size:
        raise InputError(f"{name} must have {size} entries along the last axis, but got shape {array.shape}.")
    return array


def plain_number(value: object) -> float:
    """A number of any kind as a float; raises TypeError or ValueError for what is none, True and False among it."""
    if isinstance(value, bool | np.bool_):
        raise TypeError
    try:
        # A float32 of 0.1 is meant as 0.1, not as the 0.10000000149 that it widens to.
        return float(str(value)) if isinstance(value, np.floating) else float(value)  # type: ignore[arg-type]
    except OverflowError as error:
        raise ValueError from error


def scale_step(value: float, name: str = "The scale's step") -> float:
    """A step of a scale in g, one of `SCALE_STEPS_G`."""
    low, high = SCALE_STEPS_G
    return number_between(value, name=name, low=low, high=high, unit="g")


def number_between(
    value: float, *, name: str, low: float, high: float, unit: str = "", open_low: bool = False
) -> float:
    """Return `value` as a float within low..high; `open_low` leaves `low` itself out."""
    suffix = f" {unit}" if unit else ""
    try:
        number = plain_number(value)
    except (TypeError, ValueError):
        raise InputError(f"{name} must be a number, but got {value!r}.") from None
    if not np.isfinite(number) or not low <= number <= high or (open_low and number == low):
        floor = f"more than {low:g}" if open_low else f"from {low:g}"
        raise InputError(f"{name} is {number:.12g}{suffix}; it must be {floor} to {high:g}{suffix}.")
    return number


def whole_number_between(value: float, *, name: str, low: int, high: int | None = None) -> int:
    """Return `value` as an int within low..high (None: no end); 3.0 counts as whole, True does not."""
    try:
        if isinstance(value, bool | np.bool_):
            raise TypeError
        whole = int(value)
        if whole != value:
            raise ValueError
    except (TypeError, ValueError, OverflowError):
        whole = low - 1
    if whole < low or (high is not None and whole > high):
        allowed = f"from {low} to {high}" if high is not None else f"of at least {low}"
        raise InputError(f"{name} is {value!r}; it must be a whole number {allowed}.")
    return whole


def read_only(array: FloatArray) -> FloatArray:
    """Return a copy that cannot be written to, for use inside frozen records."""
    copy = np.array(array, dtype=np.float64)
    copy.setflags(write=False)
    return copy


def _floats(value: ArrayLike, name: str) -> FloatArray:
    try:
        return np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{name} must be numbers, but got {_shorten(value)}.") from None


def _shorten(value: object) -> str:
    text = " ".join(repr(value.tolist() if isinstance(value, np.ndarray) else value).split())
    return text if len(text) <= 60 else text[:57] + "..."
