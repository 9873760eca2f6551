"""The installer's bench: every relay, line and input tried by name, judged and recorded."""
