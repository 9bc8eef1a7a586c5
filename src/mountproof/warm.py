"""Compile the kernels once, at set-up, so that the first answer a person asks for is quick."""
