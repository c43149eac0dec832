"""Behaviour tests, one folder for each package of fruitcast."""
