"""Every stack through every possible future at once."""
