"""Behaviour tests, one folder for each package of fruitcast."""

import os
import sys

# Compiled modules are kept even where Python was told to keep none: else each of some hundred
# processes compiles the program anew, and each run all the tests.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
