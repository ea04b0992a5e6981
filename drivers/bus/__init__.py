"""Buses: who is polled when, and what happens after a fault."""
