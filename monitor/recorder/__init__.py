"""The running logger: buses in, engine and log out, one commit a cycle."""
