"""English plural and singular of one word, technical words among them.

Written from general knowledge of English grammar; irregular forms are listed, the rest
follows the regular rules. A word that gets no form here is searched as written.
"""

from __future__ import annotations

from collections.abc import Mapping


def _table(lines: str) -> dict[str, tuple[str, ...]]:
    """Return word -> forms from `word form form` items parted by semicolons."""
    items = [item.split() for item in lines.replace("\n", " ").split(";") if item.strip()]
    return {word: tuple(rest) for word, *rest in items}


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


_PLURALS: Mapping[str, tuple[str, ...]] = _table("""
axis axes; matrix matrices matrixes; vertex vertices vertexes; index indices indexes; apex apices apexes;
appendix appendices appendixes; vortex vortices vortexes; helix helices helixes; cortex cortices cortexes;
codex codices; calyx calyces; medium media mediums; datum data; die dies dice; spectrum spectra spectrums;
bacterium bacteria; maximum maxima maximums; minimum minima minimums; optimum optima optimums;
extremum extrema; stratum strata; substratum substrata; quantum quanta; septum septa; ovum ova;
momentum momenta; addendum addenda; erratum errata; serum sera serums; plenum plena plenums;
symposium symposia symposiums; criterion criteria; phenomenon phenomena; automaton automata automatons;
polyhedron polyhedra polyhedrons; tetrahedron tetrahedra tetrahedrons; ganglion ganglia;
mitochondrion mitochondria; taxon taxa; basis bases; analysis analyses; hypothesis hypotheses;
synthesis syntheses; crisis crises; thesis theses; diagnosis diagnoses; prognosis prognoses;
emphasis emphases; synopsis synopses; metastasis metastases; psychosis psychoses; neurosis neuroses;
avalanche avalanches; nucleus nuclei; radius radii radiuses; stimulus stimuli; locus loci; focus foci focuses;
fungus fungi; torus tori; modulus moduli; stylus styli styluses; bacillus bacilli; thallus thalli;
annulus annuli; calculus calculi; genus genera; corpus corpora; virus viruses; cactus cacti cactuses;
apparatus apparatus apparatuses; chassis chassis; series series; species species; aircraft aircraft;
spacecraft spacecraft; hovercraft hovercraft; offspring offspring; sheep sheep; fish fish fishes;
foot feet; tooth teeth; mouse mice; louse lice; goose geese; man men; woman women; child children;
workman workmen; ox oxen; antenna antennas antennae; formula formulas formulae; larva larvae;
lamina laminae laminas; lamella lamellae; alga algae; lacuna lacunae; vertebra vertebrae; pupa pupae;
papilla papillae; fovea foveae; schema schemas schemata; stoma stomata stomas; stigma stigmas stigmata;
knife knives; half halves; leaf leaves; shelf shelves; loaf loaves; wolf wolves; calf calves; life lives;
wife wives; thief thieves; hoof hooves hoofs; scarf scarves scarfs; wharf wharves wharfs; elf elves;
quiz quizzes; gas gases gasses; lens lenses; bus buses busses; bias biases; canvas canvases;
atlas atlases; alias aliases; pancreas pancreases; iris irises; axe axes; base bases;
plateau plateaus plateaux; bureau bureaus bureaux; alkali alkalis alkalies; menu menus; taxi taxis;
ski skis; potato potatoes; tomato tomatoes; mango mangoes mangos; echo echoes; torpedo torpedoes;
cargo cargoes cargos; hero heroes; veto vetoes; mosquito mosquitoes mosquitos; volcano volcanoes volcanos;
tornado tornadoes tornados; buffalo buffaloes buffalos; shoe shoes; toe toes; hoe hoes; canoe canoes;
tie ties; pie pies; lie lies; movie movies; cookie cookies; calorie calories; genie genies;
cache caches; niche niches; ache aches; headache headaches; toothache toothaches; creche creches;
clothes clothes; tweezers tweezers; scissors scissors; pliers pliers; forceps forceps; tongs tongs;
""")

_SINGULARS: dict[str, tuple[str, ...]] = {}
for _word, _forms in _PLURALS.items():
    for _form in _forms:
        if _form != _word:
            _SINGULARS[_form] = (*_SINGULARS.get(_form, ()), _word)

# Words that people do not count, and words in -s that are neither singular nor plural.
_UNCOUNTED = _set(
    """equipment information software hardware firmware middleware machinery research knowledge feedback
    news chaos cosmos asbestos pathos mumps rabies scabies diabetes herpes hertz always across plus minus
    versus perhaps thus less more most several many means headquarters gallows
    whereas besides caries cmos gps qos rms furthermore physics"""
)
# Words in -ly that are nouns; the others in -ly are adverbs or adjectives and stay as they are.
_LY_NOUNS = _set(
    "assembly subassembly supply resupply family subfamily superfamily anomaly fly butterfly firefly mayfly "
    "poly ply multiply monopoly jelly belly lily ally rally tally bully gully doily"
)
_ED_NOUNS = _set("bed seedbed testbed flatbed hotbed shed watershed sled moped biped quadruped hundred")
# Adjectives and participles by their ends: a plural of these would be nonsense.
_ADJECTIVE_ENDS = ("ous", "less", "ful", "ish", "ics", "ward", "wards", "wise")
_SINGULAR_ENDS = ("ss", "us", "is")


def plurals(word: str) -> tuple[str, ...]:
    """Return the plurals of a singular English word, the commoner first; () where it has none.

    word: small ASCII letters. () too for a word that is a plural, or is not counted, and
    for adverbs, participles and adjectives so far as their ending shows them.
    """
    if word in _PLURALS:
        return tuple(form for form in _PLURALS[word] if form != word)
    plural = word.endswith("s") and not word.endswith(_SINGULAR_ENDS)
    if plural or word in _SINGULARS or _uncountable(word) or _never_plural(word):
        return ()
    return (_plural(word),)


def singulars(word: str) -> tuple[str, ...]:
    """Return the singulars of an English plural, the commoner first; () where it is none.

    word: small ASCII letters.
    """
    if word in _SINGULARS:
        return _SINGULARS[word]
    if word in _PLURALS or _uncountable(word) or not word.endswith("s") or word.endswith(_SINGULAR_ENDS):
        return ()
    return (_singular(word),)


def _uncountable(word: str) -> bool:
    return len(word) < 3 or word in _UNCOUNTED or word.endswith(_ADJECTIVE_ENDS)


def _never_plural(word: str) -> bool:
    adverb = word.endswith("ly") and word not in _LY_NOUNS
    participle = word.endswith("ed") and not word.endswith("eed") and word not in _ED_NOUNS
    return adverb or participle


def _plural(word: str) -> str:
    if word.endswith("sis") and len(word) > 4:
        return word[:-2] + "es"
    if word.endswith(("s", "x", "z", "sh")) or (word.endswith("ch") and not word.endswith(("arch", "och"))):
        return word + "es"
    if word.endswith("arch") and word not in ("monarch", "patriarch", "oligarch", "matriarch"):
        return word + "es"
    if word.endswith("y") and word[-2] not in "aeiou":
        return word[:-1] + "ies"
    if word.endswith("man") and word.endswith(("craftsman", "draftsman", "draughtsman", "foreman", "layman")):
        return word[:-3] + "men"
    return word + "s"


def _singular(word: str) -> str:
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("yses", "theses", "lepses")) and len(word) > 5:
        return word[:-2] + "is"
    if word.endswith(("sses", "xes", "zzes", "tzes", "shes", "ches", "uses")):
        return _singular_of_hissing(word)
    return word[:-1]


def _singular_of_hissing(word: str) -> str:
    """Return what stands before -es, or before -s where the singular ends in e (fuse, house)."""
    if word.endswith("uses"):
        latin = len(word) > 6 and word[-5] not in "aeo" and not word.endswith(("fuses", "muses", "cuses"))
        return word[:-2] if latin else word[:-1]
    return word[:-2]
