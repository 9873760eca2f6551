"""Changes to the keeper's file: judged before they are written, written whole, and kept."""
