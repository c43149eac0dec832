"""Tests of the schedule: judge, rotations, exact solutions, search and bound."""
