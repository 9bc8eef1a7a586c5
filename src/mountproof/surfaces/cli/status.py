"""Exit statuses that are not verdicts; those by verdict stand with the verdicts' words."""

from __future__ import annotations

#: Something in the input, or on the command line, cannot be used.
FAULTY_INPUT = 2
#: The program itself went wrong (EX_SOFTWARE of sysexits.h).
BROKEN = 70
#: A person stopped the work: 128 + SIGINT, as shells count.
STOPPED = 130
#: Whoever read the output closed it: 128 + SIGPIPE.
CLOSED_PIPE = 141
