"""The one-page report."""
