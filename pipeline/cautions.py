"""What the user must be told, in plain words, where decisions are made."""

from __future__ import annotations

from datetime import date

ESTIMATE = (
    "Estimates from the data and rules shown, not legal advice. A licensed patent practitioner "
    "in the country concerned decides."
)
NEVER_PROOF = (
    "A search can show that something is not new, never that it is new: applications stay secret "
    "for up to 18 months, and no source is complete."
)
UNDECIDED = "Undecided is not safe: treat it as against you until the evidence named is found."
ONE_VERSION = (
    "Another version (preprint, family member, edition) may be earlier and may say less. Check that "
    "the earliest one says the same."
)
DATE_EVIDENCE = (
    "Dates are what the sources state. A cover date, a retrieval date or a registration date is no "
    "proof of publication by itself."
)
MACHINE_TEXT = "Closeness helps reading; it decides nothing. Read the document."
DUTY = (
    "In the US, whoever takes part in a filing must give the Office everything known to be material "
    "(37 CFR 1.56), also what hurts. Leaving a reference out here does not end that duty."
)
NOT_A_FILING = (
    "A draft for the practitioner, not a filing. Copies, translations, the fee assertion and the "
    "signature are still due. Listing an item admits neither that it is prior art nor that it is "
    "material (37 CFR 1.97(h)), nor that a full search was made (1.97(g))."
)
PERSONAL_DATA = "Names of authors and inventors are personal data; share only what the purpose needs."
CONFIDENTIAL = (
    "Your summary and elements stay on this machine. The terms below do not: whoever runs a service "
    "sees what is looked for. Read this before the first run."
)
CLOCK = (
    "Check every date with a practitioner or the office. A missed date is often final. Holidays of "
    "some offices were not checked."
)
CLEARANCE = (
    "Probably expired or alive is not freedom to operate. Claims, family members, fees and courts "
    "decide; look in the register on the day you rely on it."
)
KNOWLEDGE = (
    "Knowing of a patent can matter later: in the US, infringing with knowledge may raise damages "
    "(35 USC 284; see also 298). Ask a practitioner before you read on in claims of live patents."
)
RULES = (
    "The rules were written down from summaries, those marked 'from memory' without any; none was held "
    "against the official text. Do that before you rely on one: law differs by country and changes, "
    "and the office's own text wins."
)
PUBLISH_FIRST = (
    "Publishing, showing, offering or selling before filing can destroy rights at once in many "
    "countries. The US year of grace does not help elsewhere."
)
INVENTORS = (
    "Who invented what decides whether a disclosure is excused. Record it now, truthfully, and keep "
    "the evidence; names that agree are no proof."
)
OWNERSHIP = (
    "Whether an earlier filing of the same applicant or owner, or from joint research, is held against "
    "you needs facts and statements on a date, which this program cannot see."
)


def written_down(day: date, source: str) -> str:
    """Return where a rule comes from and since when, in a line. source: as the rule's table has it."""
    told = "from memory" if source == "memory" else "from a summary"
    return f"rule written down {day} {told}; hold it against the official text"
