"""Whether an event made the matter public in the sense of the office's law."""

from __future__ import annotations

from pipeline.law.critical import Situation
from pipeline.law.facts import Finding
from pipeline.law.questions import Question

CLOSED = {
    "confidential": "It was passed on in confidence only, so it was not public.",
    "unfindable": "It could not be found by its subject with reasonable diligence, so it was not public.",
}


def not_public(at: Situation) -> Finding | None:
    """Return why the event did not make the matter public at this office, or None where it did.

    MPEP 2128; EPC Guidelines G-IV 1; a secret sale and a use or talk abroad as offices.toml says.
    """
    why = shut_away(at) or wrong_form(at)
    return Finding("not_prior_art", "none", why, at.rule.cite_access) if why else None


def shut_away(at: Situation) -> str:
    """Return why the public could not get at it, or ''."""
    question = Question(
        "whether it was open to the public", "proof who could get at it, and how it was found"
    )
    access = at.ask.word(at.event.access, question, ("open", "confidential"))
    if access != "details_secret":
        return CLOSED.get(access, "")
    counts = {"counts": "yes", "never": "no"}.get(at.rule.closed_sale, "unknown")
    question = Question(
        "whether a sale with secret details counts there",
        f"a practitioner's answer for {at.office} (no rule on it is held)",
    )
    if at.ask.holds(counts, question):
        return ""
    return "It was sold without the public learning the details; there only what the public learns counts."


def wrong_form(at: Situation) -> str:
    """Return why a disclosure of this form does not count there, or ''."""
    reach = at.rule.oral if at.event.form == "oral" else at.rule.use
    if at.event.form == "written" or reach == "anywhere":
        return ""
    if reach == "here":
        place = at.event.place
        here = "unknown" if not place else "yes" if place == at.office else "no"
        if at.ask.holds(here, Question("where it took place", "proof of the country it took place in")):
            return ""
        return f"It was not written and took place outside {at.office}, which does not count there."
    return "Only written disclosure counts there."
