"""Lines of text that a microcontroller prints: JSON objects, or ``key=value``."""
