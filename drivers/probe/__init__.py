"""Getting to know a meter on the wire: ports, who answers, what its registers hold, which one reads a known value.

Only ever reads; nothing here writes to a meter.
"""
