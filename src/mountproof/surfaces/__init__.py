"""Where people meet the answers. Surfaces render; they compute nothing."""
