"""Understudy: rings the bells and steps the dials while the drum and the master are away."""
