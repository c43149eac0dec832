"""Tests of what is published: reminders, calendar, files, terminal tables."""
