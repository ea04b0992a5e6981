"""The dashboard in a browser: who may come in, and the one file that serves it."""
