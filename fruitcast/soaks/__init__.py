"""Choosing the soak days, and proving the choice."""
