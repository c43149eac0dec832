"""Tests of daily weather."""
