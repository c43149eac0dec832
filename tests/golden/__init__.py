"""Kept answers of the program."""
