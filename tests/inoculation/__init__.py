"""Inoculation: holes and materials, care, the programme of years, its words and drawings."""
