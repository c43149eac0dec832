"""Tests of reading the yard and of its diary."""
