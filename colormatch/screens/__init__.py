"""The pages of the tool, one file each, in the order of the maker's work; the only code that knows streamlit.

Streamlit runs each page file as a script of its own, so these files import by absolute name.
"""
