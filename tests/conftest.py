"""What holds for every test."""

from __future__ import annotations

from hypothesis import settings

# How long an example takes depends on what else the machine does; speed is measured in tests/bench.
settings.register_profile("legwatch", deadline=None)
settings.load_profile("legwatch")
