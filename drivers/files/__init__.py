"""Files that people write: TOML with the line of every key, and faults reported all at once."""
