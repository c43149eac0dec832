"""Tests of the physics of a log."""
