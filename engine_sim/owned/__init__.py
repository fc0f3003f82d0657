"""A real engine out of reach: what its owner can say, what to expect of it, what its readings speak for."""
