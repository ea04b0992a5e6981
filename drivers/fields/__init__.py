"""Meters that send named fields instead of registers: text lines and telegrams, described as data like any map."""
