"""British and American spellings of one word.

Families of words by rule with their exceptions, and pairs that follow none. Written from
general knowledge of both spellings. A form that only one side uses in another sense
(a flow meter, a tyre) is given in the safe direction alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping


def _pairs(lines: str) -> dict[str, str]:
    items = (item.strip().partition(" ") for item in lines.replace("\n", " ").split(";") if item.strip())
    return {british: american for british, _, american in items}


# Both directions; a plural s follows.
_BOTH_WAYS: Mapping[str, str] = _pairs("""
aluminium aluminum; grey gray; greyed grayed; mould mold; moulded molded; moulding molding;
mouldable moldable; mouldability moldability; moulder molder; overmould overmold;
overmoulded overmolded; overmoulding overmolding;
plough plow; ploughed plowed; ploughing plowing; cataloguing cataloging; catalogued cataloged;
gauging gaging; gauged gaged; kerb curb; catalogue catalog; analogue analog;
dialogue dialog; artefact artifact; gauge gage; sceptic skeptic; sceptical skeptical;
carburettor carburetor; jewellery jewelry; defence defense; offence offense; licence license;
pretence pretense; cosy cozy; disc disk; aeroplane airplane; ageing aging; judgement judgment;
acknowledgement acknowledgment; phial vial; mollusc mollusk; cypher cipher; calliper caliper;
dyke dike; manoeuvre maneuver; manoeuvring maneuvering; manoeuvred maneuvered;
manoeuvrable maneuverable; manoeuvrability maneuverability; enrolment enrollment; fulfilment fulfillment;
instalment installment; fulfil fulfill; enrol enroll; distil distill; instil instill; skilful skillful;
woollen woolen; moustache mustache; centring centering; titre titer; calibre caliber;
theatre theater; litre liter; millilitre milliliter; microlitre microliter; nitre niter; ochre ocher;
lustre luster; sabre saber; sombre somber; spectre specter; louvre louver; accoutre accouter;
oesophagus esophagus; oesophageal esophageal; oestrogen estrogen; oestrogenic estrogenic;
oedema edema; foetus fetus; foetal fetal; diarrhoea diarrhea; anaemia anemia; anaemic anemic;
leukaemia leukemia; ischaemia ischemia; ischaemic ischemic; glycaemia glycemia; septicaemia septicemia;
hypoglycaemia hypoglycemia; hyperglycaemia hyperglycemia; glycaemic glycemic; caesium cesium;
anaesthesia anesthesia; anaesthetic anesthetic; anaesthetist anesthetist; paediatric pediatric;
orthopaedic orthopedic; gynaecology gynecology; gynaecological gynecological; aetiology etiology;
faeces feces; faecal fecal; palaeontology paleontology; haemorrhage hemorrhage; haemolysis hemolysis;
caecum cecum; tumour tumor; behaviour behavior; behavioural behavioral; neighbour neighbor;
neighbourhood neighborhood; neighbouring neighboring; favourite favorite; """)
_TO_AMERICAN_ONLY: Mapping[str, str] = _pairs("""
metre meter; draught draft; cheque check; storey story; gramme gram; kilogramme kilogram; sulphur sulfur;
adaptor adapter; whilst while; furore furor; practise practice; programme program; tyre tire;
""")
_TO_BRITISH_ONLY: Mapping[str, str] = _pairs("""
kilometer kilometre; centimeter centimetre; millimeter millimetre; nanometer nanometre;
picometer picometre; femtometer femtometre; decimeter decimetre; program programme; tire tyre;
sulfur sulphur; adapter adaptor;
""")


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


_OUR = "col flav od vap lab harb hum fav arm rum hon vig sav rig endeav parl ard clam cand ferv splend discol"
_BEFORE_OUR = "(?:bi|tri|multi|un|dis|micro|photo|thermo|electro|mono|de|re)?"
_OUR_BRITISH = re.compile(
    rf"({_BEFORE_OUR}(?:{'|'.join(_OUR.split())}))our(|s|ed|ing|less|ful|able|er|ers|y)"
)
_OUR_AMERICAN = re.compile(rf"({_BEFORE_OUR}(?:{'|'.join(_OUR.split())}))or(|s|ed|ing|less|ful|able|y)")
_FIBRE = re.compile(r"(\w*)(fib|cent)re(|s|d|glass|board|scope|optic|line|fold|piece)")
_FIBER = re.compile(r"(\w*)(fib|cent)er(|s|ed|glass|board|scope|optic|line|fold|piece)")
_METRE = re.compile(r"((?:kilo|centi|milli|micro|nano|pico|femto|deci))metre(s?)")
_ISE = re.compile(r"(\w{3,})is(e|es|ed|er|ers|ing|able|ation|ations|ational)")
_IZE = re.compile(r"(\w{3,})iz(e|es|ed|er|ers|ing|able|ation|ations|ational)")
_YSE = re.compile(
    r"(\w*(?:anal|catal|paral|electrol|hydrol|dial|pyrol|photol|thermol|breathal))ys(e|ed|er|ers|ing)"
)
_YZE = re.compile(
    r"(\w*(?:anal|catal|paral|electrol|hydrol|dial|pyrol|photol|thermol|breathal))yz(e|ed|er|ers|ing)"
)
_DOUBLED = (
    "trave labe mode channe tunne leve signa cance fue funne jewe marve pane dia tota equa initia meta peda "
    "spira counse ename barre beve grave chise swive shove shrive snorke libe unrave pumme penci stenci due "
    "tria marsha remode corbe"
)
_LL = re.compile(rf"((?:un|re|pre|multi|mis|de|bi)?(?:{'|'.join(_DOUBLED.split())}))ll(ed|ing|er|ers|ings)")
_L = re.compile(rf"((?:un|re|pre|multi|mis|de|bi)?(?:{'|'.join(_DOUBLED.split())}))l(ed|ing|er|ers|ings)")
_SULPH = re.compile(r"(\w*)sulph(\w+)")
_SULF = re.compile(r"(\w*)sulf([^h]\w*)")
_HAEM = re.compile(r"haem(at|o)(\w+)")
_HEM = re.compile(r"hem(at|o)(\w{3,})")

# Words in -ise that are so on both sides, less the ending.
_NEVER_IZE = _set(
    """adv rev dev superv telev improv exerc exc inc prec conc circumc prom comprom prem dem surm chem parad
    merchand advert expert treat chast mort pract franch comp compr enterpr surpr appr repr sunr moonr desp
    val cer polyan apprent highr crev v r w pr c"""
)
_BEFORE_ISE = re.compile("(?:un|re|im|non|mis|semi|self|over|pre|ultra|en|dis|disen)")
# Words in -ize that are no -ise.
_NEVER_ISE = _set("caps oversi downsi ass overs downs unders res mids outs pr apr se")


def to_american(word: str) -> str:
    """Return the American spelling of a word in small ASCII letters; the word itself where equal."""
    return _first(word, _AMERICAN) or word


def to_british(word: str) -> str:
    """Return the British spelling of a word in small ASCII letters; the word itself where equal."""
    return _first(word, _BRITISH) or word


_Rule = Callable[[str], str]


def _first(word: str, rules: tuple[_Rule, ...]) -> str:
    for rule in rules:
        if changed := rule(word):
            return changed
    return ""


def _by_table(table: Mapping[str, str]) -> _Rule:
    def rule(word: str) -> str:
        if word in table:
            return table[word]
        if word.endswith("s") and word[:-1] in table:
            return table[word[:-1]] + "s"
        return ""

    return rule


def _by_pattern(pattern: re.Pattern[str], into: str) -> _Rule:
    def rule(word: str) -> str:
        found = pattern.fullmatch(word)
        return found.expand(into) if found else ""

    return rule


def _ise_to_ize(word: str) -> str:
    found = _ISE.fullmatch(word)
    if not found or found[1][-1] in "aeouw":
        return ""
    if found[1] in _NEVER_IZE or _BEFORE_ISE.sub("", found[1], count=1) in _NEVER_IZE:
        return ""
    return f"{found[1]}iz{found[2]}"


def _ize_to_ise(word: str) -> str:
    found = _IZE.fullmatch(word)
    return "" if not found or found[1] in _NEVER_ISE else f"{found[1]}is{found[2]}"


def _centred(word: str) -> str:
    """Return fibre, centre → fiber, center; the e of -red is written once on either side."""
    found = _FIBRE.fullmatch(word)
    if not found:
        return ""
    return f"{found[1]}{found[2]}er" + ("ed" if found[3] == "d" else found[3])


def _centered(word: str) -> str:
    found = _FIBER.fullmatch(word)
    if not found or found[1].endswith(("re", "de", "ac", "in")):
        return ""
    return f"{found[1]}{found[2]}re" + ("d" if found[3] == "ed" else found[3])


_AMERICAN: tuple[_Rule, ...] = (
    _by_table({**_BOTH_WAYS, **_TO_AMERICAN_ONLY}),
    _by_pattern(_OUR_BRITISH, r"\1or\2"),
    _centred,
    _by_pattern(_METRE, r"\1meter\2"),
    _by_pattern(_YSE, r"\1yz\2"),
    _ise_to_ize,
    _by_pattern(_LL, r"\1l\2"),
    _by_pattern(_SULPH, r"\1sulf\2"),
    _by_pattern(_HAEM, r"hem\1\2"),
)
_BRITISH: tuple[_Rule, ...] = (
    _by_table({**{american: british for british, american in _BOTH_WAYS.items()}, **_TO_BRITISH_ONLY}),
    _by_pattern(_OUR_AMERICAN, r"\1our\2"),
    _centered,
    _by_pattern(_YZE, r"\1ys\2"),
    _ize_to_ise,
    _by_pattern(_L, r"\1ll\2"),
    _by_pattern(_SULF, r"\1sulph\2"),
    _by_pattern(_HEM, r"haem\1\2"),
)
