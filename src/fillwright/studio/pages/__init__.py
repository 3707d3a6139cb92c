"""The handlers of all pages."""
