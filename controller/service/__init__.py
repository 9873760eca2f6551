"""The daemon: threads around the engine, its wake-ups, its store and its hand."""
