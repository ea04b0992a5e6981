"""The screen of ``legwatch setup``: one face of a conversation that is held elsewhere, in a thread of its own."""
