"""The page for the phone and the calendar feed."""
