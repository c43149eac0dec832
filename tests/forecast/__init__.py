"""Tests of the forecast: every stack through every possible future."""
