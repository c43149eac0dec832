"""Many yards."""
