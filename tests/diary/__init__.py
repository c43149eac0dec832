"""Tests of fruitcast.diary."""
