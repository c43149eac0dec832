"""Behaviour of the biology."""
