"""From what the store and the answers give to the shapes on the wire."""
