"""The fake board: a process of its own that stands in for the pins and all that hangs on them."""
