"""The addresses of the web bench, one module a part."""
