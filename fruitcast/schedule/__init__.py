"""Choosing the soak dates, and proving the choice."""
