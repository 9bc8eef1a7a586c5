"""Texts for people: written in English where they arise, said in other languages at the surface.

``say("Open the pin {mm:.1f} mm", mm=opening)`` is the English text, an ordinary ``str`` to everybody; it also keeps its
template and its values, so that ``render`` can say it again from the files of a language (``said/de/*.toml``), with
that language's decimal comma and the tooth numbers of the case.
"""

from mountproof.said.catalogue import languages as languages
from mountproof.said.render import in_numbering as in_numbering
from mountproof.said.render import render as render
from mountproof.said.render import rendered as rendered
from mountproof.said.text import Said as Said
from mountproof.said.text import capital as capital
from mountproof.said.text import cut as cut
from mountproof.said.text import figure as figure
from mountproof.said.text import joined as joined
from mountproof.said.text import numbered as numbered
from mountproof.said.text import quoted as quoted
from mountproof.said.text import say as say
from mountproof.said.text import term as term
