"""What answers each page."""
