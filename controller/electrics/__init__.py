"""Volts, amps, cable, fuse and battery. Pure; every formula with its source."""
