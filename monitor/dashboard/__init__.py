"""Textual screens; they read Snapshots and nothing else."""
