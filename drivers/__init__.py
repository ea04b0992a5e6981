"""Speaks to power meters: bytes, registers, buses. Knows nothing of circuits, alarms, logs or screens."""
