"""Looking back: recorded readings in and out of a log, and what a log shows."""
