"""Electrical judgement: pure functions, each with its source."""
