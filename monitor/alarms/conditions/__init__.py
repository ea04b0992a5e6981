"""Conditions: from everything known at a moment to one observation for each rule and place."""

from monitor.alarms.conditions.conditions import Conditions

__all__ = ["Conditions"]
