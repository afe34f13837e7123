"""Tests of the pages: each by streamlit's own driver, the main job in a real browser."""
