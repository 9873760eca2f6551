"""What must outlast a crash."""
