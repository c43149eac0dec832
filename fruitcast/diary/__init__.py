"""What the grower has done, seen and decided, and the plans published."""
