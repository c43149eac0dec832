"""What is handed to users."""
