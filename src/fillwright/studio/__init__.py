"""The local web app."""
