"""Lets 'python -m fruitcast' do what 'fruitcast' does."""

import sys

from fruitcast.cli import main

if __name__ == "__main__":
    sys.exit(main())
