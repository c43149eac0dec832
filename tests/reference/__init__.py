"""Checks against published examples, standards and other programs, each with its source."""
