"""Is the clock right, was it stepped."""
