"""Facts about a patent's term, under the names by which records keep them as details.

Sources that state them write these names; whoever estimates a term reads them.
"""

from __future__ import annotations

DAYS_ADDED = "term: days added for slow grant"  # 35 USC 154(b), as printed; a whole number
DISCLAIMER = "term: disclaimer"  # its words; without a day the term ends with another patent's
DISCLAIMED_TO = "term: disclaimed after"  # YYYY-MM-DD, only where the disclaimer states its day
YEARS_FROM_GRANT = "term: years from grant"  # designs
BENEFIT_FILED = "term: earliest application relied on, filed"  # YYYY-MM-DD; 35 USC 120, 121, 365(c)
ORIGINAL_FILED = "term: original patent, filed"  # YYYY-MM-DD; of a reissue
ORIGINAL_GRANTED = "term: original patent, granted"
# The state of the file as the office tells it, each with a day YYYY-MM-DD.
ENDED_BY_FEE = "term: ended by an unpaid fee, noted"  # the day the office noted it
NO_END_KNOWN = "term: a patent without any end noted, seen"  # the day the file was as told
GIVEN_UP = "term: given up before grant, noted"
PENDING = "term: waiting at the office, seen"
