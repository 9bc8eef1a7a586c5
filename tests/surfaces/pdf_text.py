"""What a reader finds on a PDF: its words, and its pages as grey values."""

from __future__ import annotations

import numpy as np
import pypdfium2 as pdfium


def words(pdf: bytes) -> list[str]:
    """Return the text of each page on single spaces; places where a line may end are taken out."""
    document = pdfium.PdfDocument(pdf)
    try:
        return [_page_text(document, i) for i in range(len(document))]
    finally:
        document.close()


def _page_text(document: pdfium.PdfDocument, index: int) -> str:
    page = document[index]
    text_page = page.get_textpage()
    text = text_page.get_text_bounded()
    text_page.close()
    page.close()
    return squeeze(text)


def squeeze(text: str) -> str:
    """Return text on single spaces, without the places where a line may end."""
    return " ".join(
        text.replace("\u200b", "").replace("\ufffe", "-").replace("\x02", "-").replace("\u00a0", " ").split()
    )


def grey(pdf: bytes, scale: float = 2.0) -> np.ndarray:
    """Return the first page in grey, 0 to 255, (rows, columns)."""
    document = pdfium.PdfDocument(pdf)
    try:
        page = document[0]
        bitmap = page.render(scale=scale, grayscale=True)
        image = np.array(bitmap.to_numpy(), copy=True)
        bitmap.close()
        page.close()
        return image.reshape(image.shape[0], image.shape[1])
    finally:
        document.close()
