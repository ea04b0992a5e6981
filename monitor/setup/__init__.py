"""From a conversation to a show file: the draft's text, and a conversation that can go back and loses nothing."""
