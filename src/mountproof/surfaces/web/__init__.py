"""The web bench: the cases of the store and their answers over HTTP, on this computer unless told otherwise."""
