"""One module a question; nothing but composition."""
