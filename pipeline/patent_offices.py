"""How the offices number patent documents: one row per shape of number.

Adding an office is adding rows. Facts: WIPO ST.3, ST.6 and ST.16, the offices' numbering pages,
and what the EPO's data were seen to write. Practice, not a rule read: the rows of GB, FR, AT, of
TW and AU before 2002, of IN before 2016, of the offices in `_PLAIN`, and `pivot`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

# WIPO ST.3: states, former states met in data, and organisations that publish or receive.
_ST3 = (
    "AD AE AF AG AI AL AM AO AP AR AT AU AW AZ BA BB BD BE BF BG BH BI BJ BM BN BO BR BS BT BW BX BY BZ "
    "CA CD CF CG CH CI CK CL CM CN CO CR CS CU CV CY CZ DD DE DJ DK DM DO DZ EA EC EE EG EH EM EP ER ES "
    "ET FI FJ FK FO FR GA GB GC GD GE GG GH GI GL GM GN GQ GR GS GT GW GY HK HN HR HT HU IB ID IE IL IM "
    "IN IQ IR IS IT JE JM JO JP KE KG KH KI KM KN KP KR KW KY KZ LA LB LC LI LK LR LS LT LU LV LY MA MC "
    "MD ME MG MK ML MM MN MO MP MR MS MT MU MV MW MX MY MZ NA NE NG NI NL NO NP NR NZ OA OM PA PE PG PH "
    "PK PL PT PW PY QA RO RS RU RW SA SB SC SD SE SG SH SI SK SL SM SN SO SR ST SU SV SX SY SZ TC TD TG "
    "TH TJ TL TM TN TO TR TT TV TW TZ UA UG US UY UZ VA VC VE VG VN VU WO WS XN XV YD YE YU ZA ZM ZW "
)
ST3 = frozenset(_ST3.split())
ALIASES = {"UK": "GB", "EL": "GR"}  # trade writing for ST.3's own code


def office_code(text: str) -> str:
    """Return the ST.3 code the two letters stand for (UK is GB, EL is GR), or ''."""
    code = text.strip().upper()
    code = ALIASES.get(code, code)
    return code if code in ST3 else ""


@dataclass(frozen=True)
class Shape:
    """One form an office's numbers take.

    patterns: alternatives, each held against the whole number with every separator written
        as one hyphen, then without. Groups: y year, yy two-digit year, r year of the Republic
        (Taiwan), e era letter and ey era year (Japan), t type or place in the office, n serial.
    body, docdb, epodoc, face: how normal form, the EPO's two forms and the office write
        it; fields are y, yy, r, e, ey, t, n (a number), g (n laid into `picture`), s (n as
        read), k (kind letter where epodoc keeps it).
    key: the identity without kind; c is the class (see `classed`).
    classed: 'letter' where kinds A, B, U… share the shape but not the numbers; 'utility'
        where only utility models and designs count apart; 'filing' where all but A do, as US
        provisionals (P) by serial and year; '' where the shape tells.
    pivot: the first two-digit year that means 19yy.
    kinds: kind letters the shape may bear, or "" for any.
    implied: the one kind that DOCDB can write for it, where no other exists.
    series: what the user calls this series; {t} stands for the group t.
    needs_kind: too loose a pattern to be believed without a kind code behind it.
    """

    office: str
    name: str
    example: str
    patterns: tuple[str, ...]
    body: str = "{n}"
    docdb: str = ""
    epodoc: str = ""
    face: str = ""
    key: str = "{n}"
    picture: str = ""
    classed: str = ""
    pivot: int = 50
    kinds: str = ""
    implied: str = ""
    series: str = ""
    needs_kind: bool = False
    compiled: tuple[re.Pattern[str], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Compile the patterns once."""
        object.__setattr__(self, "compiled", tuple(re.compile(pattern) for pattern in self.patterns))


_THOUSANDS, _SPACED = "#,###,###,###", "# ### ### ###"
_PLAIN = "BE BG CH CS CZ DD ES FI HU IL IT LU NL NO NZ RO RU SE SG SU YU"
_Y4 = r"(?P<y>20\d\d)"
_ERA = r"(?P<e>[MTSHR])(?P<ey>\d{1,2})-(?P<n>\d{1,6})"
_ERA_TIGHT = r"(?P<e>[MTSHR])(?P<ey>\d\d)(?P<n>\d{4,6})"


def _plain(office: str, key: str = "{n}") -> Shape:
    return Shape(
        office, "publication", f"{office} 1234567", (r"0*(?P<n>[1-9]\d{4,6})",), classed="utility",
        epodoc="{n}{k}", key=key,
    )  # fmt: skip


PUBLICATIONS = (
    Shape(
        "US", "patent", "US 9,123,456 B2", (r"0{0,4}(?P<n>[1-9]\d{3,6}|1\d{7})",),
        face="{g}", picture=_THOUSANDS, kinds="ABCFJKO", series="patent",
    ),
    Shape(
        "US", "published application", "US 2015/0123456 A1",
        (r"(?P<y>20\d\d)(?P<n>\d{7})", r"(?P<y>20\d\d)(?P<n>\d{6})"),
        body="{y}{n:07d}", docdb="{y}{n:06d}", face="{y}/{n:07d}", key="{y}-{n}", kinds="AP",
        series="application",
    ),
    Shape(
        "US", "design", "US D789,012 S", (r"D0*(?P<n>[1-9]\d{0,6})",),
        body="D{n}", face="D{g}", picture=_THOUSANDS, key="D-{n}", kinds="S", implied="S", series="design",
    ),
    Shape(
        "US", "reissue", "US RE45,678 E", (r"RE0*(?P<n>[1-9]\d{0,5})",),
        body="RE{n}", face="RE{g}", picture=_THOUSANDS, key="RE-{n}", kinds="E", series="reissue",
    ),
    Shape(
        "US", "plant patent", "US PP25,123 P3", (r"PP0*(?P<n>[1-9]\d{0,5})",),
        body="PP{n}", face="PP{g}", picture=_THOUSANDS, key="PP-{n}", kinds="P", series="plant",
    ),
    Shape(
        "US", "statutory invention registration", "US H1,234 H", (r"H0*(?P<n>[1-9]\d{0,4})",),
        body="H{n}", face="H{g}", picture=_THOUSANDS, key="H-{n}", kinds="H", series="registration",
    ),
    Shape(
        "EP", "publication", "EP 1 234 567 A1", (r"0{0,3}(?P<n>[1-9]\d{3,6})",),
        body="{n:07d}", face="{g}", picture="0 000 000",
    ),
    # Five digits in the serial until June 2002, six since; four-digit years since 2004.
    Shape(
        "WO", "publication to mid-2002", "WO 99/12345 A1",
        (
            r"(?P<yy>7[89]|[89]\d|0[0-2])(?P<n>\d{5})", r"(?P<yy>7[89]|[89]\d|0[01])0(?P<n>\d{5})",
            r"(?P<y>19(?:7[89]|[89]\d)|200[0-2])(?P<n>\d{5})",
            r"(?P<y>19(?:7[89]|[89]\d)|200[01])0(?P<n>\d{5})",
        ),
        body="{yy}{n:05d}", face="{yy}/{n:05d}", key="{y}-{n}", pivot=78,
    ),
    Shape(
        "WO", "publication of 2002-2003", "WO 02/054790 A2",
        (r"(?P<yy>0[23])(?P<n>\d{6})", r"(?P<y>200[23])(?P<n>\d{6})", r"(?P<y>2003)(?P<n>\d{5})"),
        body="{yy}{n:06d}", face="{yy}/{n:06d}", key="{y}-{n}", pivot=78,
    ),
    Shape(
        "WO", "publication", "WO 2015/123456 A1",
        (r"(?P<y>20(?:0[4-9]|[1-9]\d))(?P<n>\d{6})", r"(?P<y>20(?:0[4-9]|[1-9]\d))-(?P<n>\d{5})",
         r"(?P<yy>0[4-9]|[1-5]\d)-(?P<n>\d{6})"),
        pivot=78, body="{y}{n:06d}", face="{y}/{n:06d}", key="{y}-{n}",
    ),
    # A letter in the key: kokai (A, T), kokoku (B), and utility models count apart in each year.
    Shape(
        "JP", "publication of an era year", "JP H10-123456 A",
        (_ERA, _ERA_TIGHT),
        body="{e}{ey:02d}{s}", face="{e}{ey}-{s}", key="{c}-{y}-{n}", classed="letter", kinds="ATBUY",
        series="era",
    ),
    # Kokai began in 1971, so 1-12 can only be Heisei and 46-63 Showa; 1989 was both.
    Shape(
        "JP", "laid-open publication without era letter", "JP 10-123456 A",
        (r"(?P<ey>0?[1-9]|1[0-2]|4[6-9]|5\d|6[0-3])-(?P<n>\d{6})",
         r"(?P<y>19(?:7[1-9]|8[0-8]|9\d))-?(?P<n>\d{6})"),
        body="{e}{ey:02d}{s}", face="{e}{ey}-{s}", key="{c}-{y}-{n}", classed="letter", kinds="ATU",
        series="era",
    ),
    # Since 2000 the year is Western, and only kokai and kohyo bear one: nothing overlaps.
    Shape(
        "JP", "publication of a year from 2000", "JP 2005-123456 A",
        (_Y4 + r"-(?P<n>\d{1,6})", _Y4 + r"(?P<n>\d{6})"),
        body="{y}{n:06d}", face="{y}-{n:06d}", key="A-{y}-{n}", kinds="AT", implied="A", series="year",
    ),
    Shape(
        "JP", "re-publication of a Japanese international application", "JP WO2010/050748 A1",
        (r"WO(?P<y>20\d\d|19\d\d)-?(?P<n>\d{6})",),
        body="WO{y}{n:06d}", face="WO{y}/{n:06d}", key="WO-{y}-{n}", kinds="A", series="republication",
    ),
    Shape(
        "JP", "registration", "JP 3000014 B", (r"(?P<n>[1-9]\d{4,6})",),
        epodoc="{n}{k}", key="{c}-{n}", classed="letter", kinds="BCUYSE", series="registration",
    ),
    Shape(
        "CN", "document of nine digits", "CN 102345678 B", (r"(?P<n>[1-3]\d{8})",),
        epodoc="{n}{k}", kinds="ABCUYSD",
    ),
    Shape(
        "CN", "document of seven digits", "CN 1234567 A", (r"(?P<n>[1-9]\d{5,6})",),
        epodoc="{n}{k}", key="{c}-{n}", classed="letter", kinds="ABCUYSD",
    ),
    Shape(
        "KR", "publication", "KR 10-2008-0107376 A",
        (r"(?P<t>[1-3]0)(?P<y>(?:19|20)\d\d)(?P<n>\d{7})", r"(?P<y>(?:19[89]|20\d)\d)(?P<n>\d{7})"),
        body="{t}{y}{n:07d}", docdb="{y}{n:07d}", face="{t}-{y}-{n:07d}", key="{t}-{y}-{n}",
        series="{t}",
    ),
    Shape(
        "KR", "registration", "KR 10-1234567 B1", (r"(?P<t>[1-3]0)(?P<n>\d{7})",),
        body="{t}{n:07d}", epodoc="{t}{n:07d}{k}", face="{t}-{n:07d}", key="{t}-{n}", kinds="BCUYSED",
        series="{t}",
    ),
    Shape(
        "DE", "publication since 2004", "DE 10 2006 032 425 A1",
        (r"(?P<t>1[0-2]|2[01]|50|60)(?P<y>20\d\d)(?P<n>\d{6})",),
        body="{t}{y}{n:06d}", face="{t} {y} {g}", picture="000 000", key="{t}-{y}-{n}", series="{t}",
    ),
    Shape(
        "DE", "publication of 1995-2003, or part of an EP patent", "DE 698 12 345 T2",
        (r"(?P<n>[1256]\d{7})",), face="{g}", picture="### ## ###",
    ),
    Shape(
        "DE", "publication to 1994", "DE 35 46 191 A1", (r"G?(?P<n>[1-9]\d{4,6})",),
        epodoc="{n}{k}", face="{g}", picture="## ## ###", key="{c}{n}", classed="utility",
    ),
    Shape(
        "GB", "publication", "GB 2 123 456 A", (r"0?(?P<n>[1-9]\d{4,6})",), face="{g}", picture=_SPACED,
    ),
    Shape(
        "GB", "specification of 1859-1915", "GB 191012345 A",
        (r"(?P<y>18[5-9]\d|19(?:0\d|1[0-5]))(?P<n>\d{5})",),
        body="{y}{n:05d}", key="{y}-{n}", kinds="A",
    ),
    Shape("FR", "publication", "FR 2 890 123 A1", (r"(?P<n>[1-9]\d{4,6})",), face="{g}", picture=_SPACED),
    Shape("CA", "publication", "CA 2,744,162 A1", (r"(?P<n>[1-9]\d{4,6})",), face="{g}", picture=_THOUSANDS),
    Shape(
        "AU", "publication since 2002", "AU 2013290010 A1", (_Y4 + r"(?P<n>\d{6})",),
        body="{y}{n:06d}", key="{y}-{n}",
    ),
    Shape(
        "AU", "publication to 2002", "AU 712345 B2", (r"(?P<n>[1-9]\d{4,6})",),
        key="{c}-{n}", classed="letter",
    ),
    Shape(
        "TW", "grant, utility model or design", "TW I345678 B", (r"(?P<t>[IMD])(?P<n>\d{6})",),
        body="{t}{n:06d}", epodoc="{t}{n:06d}{k}", key="{t}-{n}", series="{t}",
    ),
    Shape(
        "TW", "published application", "TW 201234567 A", (_Y4 + r"(?P<n>\d{5})",),
        body="{y}{n:05d}", key="{y}-{n}", kinds="A",
    ),
    Shape(
        "TW", "publication to 2003", "TW 512345 B", (r"(?P<n>[1-9]\d{4,5})",),
        epodoc="{n}{k}", key="{c}-{n}", classed="letter",
    ),
    Shape(
        "IN", "published application", "IN 201611012345 A", (_Y4 + r"(?P<t>[1-4])(?P<n>\d{7})",),
        body="{y}{t}{n:07d}", key="{y}-{t}-{n}", kinds="A",
    ),
    Shape(
        "IN", "application to 2016", "IN 1234/DEL/2008 A",
        (r"(?P<n>\d{1,6})-?(?P<t>[A-Z]{3,6})-?(?P<y>(?:19|20)\d\d)",),
        face="{n}/{t}/{y}", body="{n}{t}{y}", key="{y}-{t}-{n}", kinds="A", series="{t}",
    ),
    Shape("IN", "grant", "IN 234567 B", (r"(?P<n>[1-9]\d{5})",), kinds="B"),
    # The EPO writes the same document with and without the E.
    Shape(
        "AT", "translation of an EP patent", "AT E 232441 T1", (r"E(?P<n>[1-9]\d{3,6})",),
        body="E{n}", epodoc="E{n}{k}", face="E {n}", key="E-{n}", kinds="T", series="translation",
    ),
    Shape(
        "AT", "translation of an EP patent, written without E", "AT 232441 T1", (r"(?P<n>[1-9]\d{3,6})",),
        body="E{n}", epodoc="E{n}{k}", face="E {n}", key="E-{n}", kinds="T", series="translation",
        needs_kind=True,
    ),
    _plain("AT"),
    # A T document of these offices bears the EP patent's own number.
    *(
        Shape(
            office, "publication", f"{office} 3740998 T3", (r"(?P<n>[1-9]\d{4,6})",),
            epodoc="{n}{k}", classed="utility", key="{c}{n}",
        )
        for office in ("DK", "PL", "PT")
    ),
    *(
        _plain(office, "{c}{n}")
        for office in _PLAIN.split()
    ),
    *(
        Shape(
            office, "publication with its year", f"{office} 2023010582 A",
            (r"(?P<y>(?:19|20)\d\d)(?P<n>\d{4,7})",),
            body="{y}{s}", face="{y}/{s}", key="{c}{y}-{n}", classed="utility", epodoc="{y}{s}{k}",
        )
        for office in ("MX", "ZA", "RU", "DK", "FI", "NO", "SE", "SG", "IL")
    ),
)  # fmt: skip

APPLICATIONS = (
    # Slash writing and the USPTO's own eight digits; the second holds only for series in use.
    Shape(
        "US", "application", "US 12/942,680",
        (r"(?P<t>0[1-9]|1\d|29|35|6[0-4]|9[056])-(?P<n>\d{3}-\d{3}|\d{6})",
         r"(?P<y>(?:19|20)\d\d)(?P<t>0[1-9]|1\d|29|35|6[0-4]|9[056])(?P<n>\d{6})",
         r"(?P<t>0[1-9]|1\d|29|35|6[0-4]|9[056])(?P<n>\d{6})"),
        body="{t}{n:06d}", face="{t}/{g}", picture="000,000", key="{t}-{n}", series="{t}",
    ),
    # As the EPO's data wrote it until about 2010: serial and year, no series.
    Shape(
        "US", "application, year and serial", "US 20100942680", (r"(?P<y>(?:19|20)\d\d)0(?P<n>\d{6})",),
        body="{y}{n:07d}", docdb="{n}{yy}", key="{y}-{c}{n}", classed="filing",
    ),
    Shape(
        "US", "application, serial and two-digit year", "US 94268010 A", (r"(?P<n>\d{3,6})(?P<yy>\d\d)",),
        body="{y}{n:07d}", docdb="{n}{yy}", key="{y}-{c}{n}", pivot=20, kinds="APFDE", needs_kind=True,
        classed="filing",
    ),
    Shape(
        "EP", "application", "EP 10167109.7", (r"(?P<yy>\d\d)(?P<n>\d{6})", _Y4 + r"0(?P<n>\d{6})",
                                             r"(?P<y>19\d\d)0(?P<n>\d{6})"),
        body="{yy}{n:06d}", epodoc="{y}{n:07d}", key="{yy}{n:06d}", pivot=78,
    ),
    Shape(
        "JP", "application of an era year", "JP H10-123456", (_ERA, _ERA_TIGHT),
        body="{e}{ey:02d}{n:06d}", epodoc="{y}{n:07d}", face="{e}{ey}-{n:06d}", key="{c}{y}-{n}",
        classed="utility",
    ),
    Shape(
        "JP", "application", "JP 2016-128835",
        (_Y4 + r"-(?P<n>\d{1,6})", _Y4 + r"(?P<n>\d{6})", r"(?P<y>(?:19|20)\d\d)0(?P<n>\d{6})"),
        body="{y}{n:06d}", epodoc="{y}{n:07d}", face="{y}-{n:06d}", key="{c}{y}-{n}",
        classed="utility",
    ),
    Shape(
        "CN", "application", "CN 201010123456.7", (_Y4 + r"(?P<t>[1-389])(?P<n>\d{7})",),
        body="{y}{t}{n:07d}", key="{y}-{t}-{n}", series="{t}",
    ),
    Shape(
        "CN", "application to 2003", "CN 98123456.7",
        (r"(?P<yy>8[5-9]|9\d|0[0-3])(?P<t>[1-389])(?P<n>\d{5})",),
        body="{yy}{t}{n:05d}", key="{y}-{t}-{n}", series="{t}", pivot=80,
    ),
    Shape(
        "KR", "application", "KR 10-2008-0107376",
        (r"(?P<t>[1-3]0)(?P<y>(?:19|20)\d\d)(?P<n>\d{7})", r"(?P<y>(?:19[4-9]|20\d)\d)(?P<n>\d{7})"),
        body="{t}{y}{n:07d}", docdb="{y}{n:07d}", face="{t}-{y}-{n:07d}", key="{t}-{y}-{n}", series="{t}",
    ),
    Shape(
        "DE", "application since 2004", "DE 20 2007 016 308.8",
        (r"(?P<t>1[0-2]|2[01]|50|60)(?P<y>20\d\d)(?P<n>\d{6})",),
        body="{t}{y}{n:06d}", epodoc="{y}{t}{n:06d}{k}", face="{t} {y} {g}", picture="000 000",
        key="{t}-{y}-{n}", series="{t}",
    ),
    Shape(
        "DE", "application to 2003", "DE 198 12 345.6", (r"[PG]?(?P<n>[1-9]\d{6,7})",),
        face="{g}", picture="### ## ###",
    ),
    Shape(
        "GB", "application", "GB 2306615.2",
        (r"(?P<yy>\d\d)(?P<n>\d{5})", r"(?P<y>(?:19|20)\d\d)00(?P<n>\d{5})",
         r"(?P<y>(?:19|20)\d\d)(?P<n>\d{5})"),
        body="{yy}{n:05d}", epodoc="{y}{n:07d}", key="{y}-{n}", pivot=77,
    ),
    Shape(
        "FR", "application", "FR 05 12345",
        (r"(?P<yy>\d\d)(?P<n>\d{5})", r"(?P<y>(?:19|20)\d\d)00(?P<n>\d{5})"),
        body="{yy}{n:05d}", epodoc="{y}{n:07d}", key="{y}-{n}", face="{yy} {n:05d}", pivot=69,
    ),
    Shape(
        "CA", "application", "CA 2744162", (r"(?P<n>[1-9]\d{5,6})", r"(?:19|20)\d\d(?P<n>[1-9]\d{6})"),
        face="{g}", picture=_THOUSANDS,
    ),
    Shape(
        "AU", "application", "AU 2013290010", (_Y4 + r"(?P<n>\d{6})", _Y4 + r"0(?P<n>\d{6})"),
        body="{y}{n:06d}", epodoc="{y}{n:07d}", key="{y}-{n}",
    ),
    Shape(
        "TW", "application", "TW 105123456", (r"(?P<r>0?[4-9]\d|1\d\d)(?P<n>\d{6})", _Y4 + r"0(?P<n>\d{6})"),
        body="{r:03d}{n:06d}", epodoc="{y}{n:07d}", key="{y}-{n}",
    ),
    Shape(
        "IN", "application", "IN 201611012345", (_Y4 + r"(?P<t>[1-4])(?P<n>\d{7})",),
        body="{y}{t}{n:07d}", key="{y}-{t}-{n}", series="{t}",
    ),
    Shape(
        "IN", "application to 2016", "IN 1234/DEL/2008",
        (r"(?P<n>\d{1,6})-?(?P<t>[A-Z]{3,6})-?(?P<y>(?:19|20)\d\d)",),
        face="{n}/{t}/{y}", body="{n}{t}{y}", key="{y}-{t}-{n}", series="{t}",
    ),
    # A design of a multiple filing: the part after the hyphen is which one.
    Shape(
        "EM", "design", "EM 001184956-0001", (r"(?P<n>\d{9})-(?P<t>\d{4})",),
        body="{n:09d}-{t}", key="{n}-{t}", series="design",
    ),
    Shape(
        "MD", "application", "MD 20050130", (r"(?P<y>20\d\d)000(?P<n>\d{4})", _Y4 + r"(?P<n>\d{4})"),
        body="{y}{n:04d}", epodoc="{y}{n:07d}", key="{y}-{n}",
    ),
)  # fmt: skip

# An international application, by receiving office; `o` is that office.
PCT = Shape(
    "", "international application", "PCT/KR2009/006271",
    (r"(?P<y>(?:19|20)\d\d)-(?P<n>\d{5,6})", r"(?P<y>(?:19|20)\d\d)(?P<n>\d{6})",
     r"(?P<yy>\d\d)-?(?P<n>\d{5,6})", r"(?P<y>(?:19|20)\d\d)(?P<n>\d{5})"),
    body="{y}{n:06d}", key="{y}-{n}", pivot=78, series="PCT",
)  # fmt: skip

# These offices' rows are all there is; elsewhere a number that fits no row may still be one.
_COMPLETE = "US EP WO JP CN KR DE GB FR CA AU TW IN EM"

# Offices without rows of their own: believed only with a kind code behind the number.
OTHER = Shape(
    "", "document with its kind code", "MD 20050130 A", (r"(?P<t>P|U|PI|MU|)(?P<n>(?=0*[1-9])\d{4,13})",),
    body="{t}{s}", epodoc="{t}{s}{k}", key="{c}{t}{n}", classed="utility", series="{t}", needs_kind=True,
)  # fmt: skip


def shapes_of(office: str, role: str) -> tuple[Shape, ...]:
    """Return the shapes to try for `publication` or `application`, the likelier first."""
    own = _BY_OFFICE.get((office, role), ())
    return own if office in _COMPLETE.split() else (*own, OTHER)


_BY_OFFICE = {
    (office, role): tuple(row for row in rows if row.office == office)
    for role, rows in (("publication", PUBLICATIONS), ("application", APPLICATIONS))
    for office in {row.office for row in rows}
}
