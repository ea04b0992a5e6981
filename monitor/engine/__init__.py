"""Folds readings into Snapshots and events; pure, the clock is an argument."""
