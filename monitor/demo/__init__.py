"""The demo: an electrical model of a small set, driven by a scenario kept as data."""
