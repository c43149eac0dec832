"""Figures: run with `pytest -m benchmark`."""
