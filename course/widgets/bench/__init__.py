"""The bench: the engine, its gauges and its controls."""
