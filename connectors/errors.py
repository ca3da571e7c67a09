"""What can go wrong between us and a source.

    SourceError          source, what, and what to do
    ├── SourceBusy       come back later (429, 503, quota); retry_after_s where it is said
    │   └── TokenExpired the bearer token is no longer good; a new one may be
    ├── SourceDown       no answer: refused, timed out, cut off
    ├── SourceRefused    asking again will not help (400, 401, 403)
    │   └── InnerAddress an address that leads into this machine or its network
    ├── SourceChanged    the answer is not what the manual describes; path says where
    └── AnswerTooLarge   the body passed the size limit

No error text ever holds a key: keys are added when sending and are not in a Request.
"""

from __future__ import annotations


class SourceError(Exception):
    """A source did not do its part. Facts are attributes; the text is for the user."""

    def __init__(self, source: str, what: str, retry_after_s: float | None = None, path: str = "") -> None:
        """Keep the facts; the text names source, what happened and, for a changed answer, where."""
        super().__init__(source, what, retry_after_s, path)
        self.source = source
        self.what = what
        self.retry_after_s = retry_after_s
        self.path = path

    def __str__(self) -> str:
        """Return one line for the user."""
        return f"{self.source}: {self.what}" + (f" (at {self.path})" if self.path else "")


class SourceBusy(SourceError):
    """The source asks to be left alone for a while."""


class TokenExpired(SourceBusy):
    """The bearer token has run out."""


class SourceDown(SourceError):
    """The source did not answer, or its answer was cut off."""


class SourceRefused(SourceError):
    """The source will not answer this request, however often it is sent."""


class InnerAddress(SourceRefused):
    """The address leads into this machine or the network it stands in."""


class SourceChanged(SourceError):
    """The answer does not have the shape the manual describes."""


class AnswerTooLarge(SourceError):
    """The answer passed the size limit and was not read to its end."""
