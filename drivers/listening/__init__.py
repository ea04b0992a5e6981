"""Buses on which meters send messages: who listens, what counts as silence, and one worker thread for each."""
