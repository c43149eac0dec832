"""Daily weather of one site: reading, checking, filling, fetching."""
