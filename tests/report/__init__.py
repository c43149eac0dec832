"""Tests of the report and its figures."""
