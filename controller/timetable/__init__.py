"""Which zones sound when. Pure."""
