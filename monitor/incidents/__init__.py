"""Incidents: what happened to a set, found while it happens; pure, the clock is an argument."""
