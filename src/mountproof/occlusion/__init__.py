"""Teeth, and where they meet."""
