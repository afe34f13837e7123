"""The page of figures: what was measured, by which test, when, and what falls short."""
