"""Plays, interlock and limits (pure); the hand, its pins, and the fake board."""
