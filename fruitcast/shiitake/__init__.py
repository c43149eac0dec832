"""Biology of the fungus: strain classes, spawn run, flushes, yield."""
