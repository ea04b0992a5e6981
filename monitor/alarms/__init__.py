"""Alarms: what is observed, the rules that judge it, the life cycle of each alarm; pure, the clock is an argument."""
