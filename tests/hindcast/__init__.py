"""Tests of the hindcast."""
