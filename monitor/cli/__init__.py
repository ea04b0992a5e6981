"""Commands, thin: they parse words, call a room below and print."""
