"""Virtual meters: register images answered over a real pseudo-terminal or a real TCP socket."""
