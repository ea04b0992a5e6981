"""The log file: SQLite schema, the one writer, the readers."""
