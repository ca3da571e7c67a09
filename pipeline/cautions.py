"""What the user must be told, in plain words, where decisions are made."""

from __future__ import annotations

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
