"""What the cutoff rules need to know, and what they say. Unknown is always a value of its own.

Refused input is BadDates: what is wrong, where, and how to mend it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from connectors.days import Days
from pipeline.errors import AntedateError

DISCLOSERS = ("inventor", "third_party", "abuse", "unknown")
ACCESS = ("open", "details_secret", "confidential", "unfindable", "unknown")
FORMS = ("written", "oral", "use", "sale")
GROUNDS = (
    "none", "exhibition", "conference", "learned_society", "emergency", "government", "trial", "unknown",
)  # fmt: skip
ANSWERS = ("yes", "no", "unknown")
OWNERS = ("same", "common", "other", "unknown")
INVENTORS = ("same", "different", "unknown")
PRIORITY_KINDS = ("foreign", "provisional", "pct", "continuation")
VALIDITY = ("yes", "no", "unknown", "restored")
RIGHTS = ("patent", "design", "utility model")


class BadDates(AntedateError, ValueError):
    """Dates or facts that cannot be judged; the text says what, where and how to mend it."""


@dataclass(frozen=True)
class PublicEvent:
    """One act that may have made something public.

    kind: free words, for the reasons. days: when, as an interval. disclosed_by: inventor
    (or someone who had it from the inventor), abuse (against the inventor's will),
    third_party, unknown. access: open; details_secret (a known sale whose details stay
    secret); confidential; unfindable (public, but in no index by which it could be found);
    unknown. form: written covers printed, posted and shown with copies. place: two-letter
    country, read only where a law asks where a use or sale took place. ground: the special
    occasion a narrow grace rule may ask for ("none" for an ordinary disclosure). zone_known:
    False for a day put on the web in a time zone that is not stated. said: words for the days
    in reasons, instead of the days themselves.
    """

    kind: str
    days: Days
    disclosed_by: str = "unknown"
    access: str = "open"
    form: str = "written"
    place: str = ""
    ground: str = "none"
    zone_known: bool = True
    said: str = ""

    @property
    def when(self) -> str:
        """The days in words that follow 'public'."""
        if self.said:
            return self.said
        if self.days.first is None:
            return f"by {self.days.last} at the latest" if self.days.last else "on a day not known"
        return self.days.text() if self.days.last else f"not before {self.days.first}"


@dataclass(frozen=True)
class PatentFacts:
    """What a patent document brings with it beyond its publication.

    office: that published it. effective_filing: the earliest date its matter may rely on,
    over the whole benefit chain. published: kept to check the order; the public event
    itself stands in the disclosure. inventors: compared with ours, as whole sets. owner:
    same applicant, common (other applicant, one owner or a joint research agreement),
    other. ownership_stated: the statement of common ownership is on our file. designates:
    offices named by an international or regional application, empty where not known.
    entered: (office, yes | no | unknown): fee, translation or national entry done there.
    claims_matter: the earlier application claims it. filed_there: actual filing at `office`.
    """

    office: str
    effective_filing: Days | None = None
    published: Days | None = None
    inventors: str = "unknown"
    owner: str = "unknown"
    ownership_stated: bool | None = None
    designates: tuple[str, ...] = ()
    entered: tuple[tuple[str, str], ...] = ()
    claims_matter: str = "unknown"
    filed_there: Days | None = None


@dataclass(frozen=True)
class Disclosure:
    """One version of a reference: the events that made it public, each on its own evidence.

    Several statements about one event belong in one PublicEvent; every event here is taken
    to have happened, and the one worst for the applicant decides. repeats_own: it shows no
    more than the inventor had disclosed before (an obvious variation is 'no').
    """

    kind: str
    events: tuple[PublicEvent, ...]
    patent: PatentFacts | None = None
    repeats_own: str = "unknown"


@dataclass(frozen=True)
class Priority:
    """An earlier application ours relies on. valid: it discloses this claim, in due form;
    restored: filed late and the right was given back; unknown until someone has compared."""

    day: date
    office: str
    kind: str = "foreign"
    valid: str = "unknown"


@dataclass(frozen=True)
class OurDates:
    """The dates of one claim (or group of elements) of ours at one office.

    filing: actual filing there (for a national phase: the international filing date), None
    until it is made; planned: the day asked about instead. own_disclosures: the inventor's.
    declared: the statement a grace rule asks for was made; None is not known. law: the US
    law where another claim decides it ("AIA", "pre-AIA"), else "". invented: proven day
    of invention, read under the pre-AIA law only. filed_abroad: the filing was made at
    another office (an international one), so that closed days there move nothing.
    """

    filing: date | None = None
    planned: date | None = None
    priorities: tuple[Priority, ...] = ()
    own_disclosures: tuple[PublicEvent, ...] = ()
    declared: bool | None = None
    right: str = "patent"
    law: str = ""
    invented: date | None = None
    filed_abroad: bool = False


@dataclass(frozen=True)
class Finding:
    """What one state of affairs leads to. statement: the declaration the outcome rests on."""

    outcome: str
    counts_for: str
    reason: str
    citation: str
    statement: str = ""


@dataclass(frozen=True)
class Verdict:
    """One office's answer for one disclosure against one set of our dates.

    outcome: prior_art, earlier_right, excused_by_grace, not_prior_art, undecided, no_rule.
    counts_for: novelty+obviousness, novelty, none, depends. possible: the outcomes the
    evidence leaves open, worst for us first (one unless undecided). settle_by: the evidence
    that would decide. presumption: what the office takes as given from a date without its
    day, "" for nothing. declaration_needed: what the exception asks to be filed, in
    words. provisional: not filed yet. critical_date: None while it is open.
    rule_checked: the day our rule was last held against its source; None without a rule.
    rule_source: read, read (secondary) or memory.
    """

    office: str
    outcome: str
    counts_for: str
    reason: str
    citation: str
    settle_by: tuple[str, ...] = ()
    possible: tuple[str, ...] = ()
    presumption: str = ""
    provisional: bool = False
    declaration_needed: str = ""
    critical_date: date | None = None
    rule_checked: date | None = None
    rule_source: str = ""
