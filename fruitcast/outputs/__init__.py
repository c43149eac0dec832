"""Calendar, report, terminal and drawings."""
