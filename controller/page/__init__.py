"""The keeper's page: a process of its own, without pins and without a store."""
