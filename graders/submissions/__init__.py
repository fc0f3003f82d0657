"""What was handed in: its folder, whose it is, and the key of its verdict."""
