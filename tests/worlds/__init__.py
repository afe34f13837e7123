"""Simulated studios whose optics are not the package's model; for tests and for building demo data."""
