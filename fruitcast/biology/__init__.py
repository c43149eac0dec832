"""A log and its fungus: evaporation, moisture, spawn run, flushes, yield."""
