"""Contact sites and closing map as files for other programs."""
