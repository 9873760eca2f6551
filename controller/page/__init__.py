"""The keeper's page: a process of its own, without pins, store or files to write."""
