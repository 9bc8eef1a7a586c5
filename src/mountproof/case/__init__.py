"""What somebody measured, with what uncertainty, and nothing derived."""
