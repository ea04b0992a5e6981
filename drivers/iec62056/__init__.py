"""IEC 62056-21: meters read by sign-on (modes A, B, C) and meters that send telegrams by themselves (mode D, P1)."""
