"""The show file: one set's power as frozen dataclasses, and its checking."""
