"""Tables, iCalendar, pages and plots."""
