"""What the dials show and how they come right. Pure."""
