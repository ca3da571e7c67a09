"""Invented works and patents → bodies of the shape in which each source answers."""

from __future__ import annotations

import json
from typing import Any
from xml.sax.saxutils import escape

OPS = 'xmlns="http://www.epo.org/exchange" xmlns:ops="http://ops.epo.org" xmlns:xlink="http://www.w3.org/1999/xlink"'


# --- OpenAlex --------------------------------------------------------------------


def openalex_page(works: list[dict[str, Any]], total: int, cursor: str | None) -> bytes:
    """Return a page of results; cursor None on the last one."""
    meta = {"count": total, "db_response_time_ms": 31, "page": None, "per_page": 100, "groups_count": None}
    return _lines({"meta": {**meta, "next_cursor": cursor}}, "results", [_openalex(work) for work in works])


def _openalex(work: dict[str, Any]) -> dict[str, Any]:
    own = work["openalex"]
    doi = f"https://doi.org/{work['doi']}" if work.get("doi") else None
    name = f"https://openalex.org/W{work['number']}"
    title = work["title"]
    location = {
        "id": f"doi:{work['doi']}" if doi else f"pmh:oai:shelf.example:{work['number']}",
        "is_oa": True,
        "landing_page_url": doi or f"https://shelf.example/{work['number']}",
        "source": {"display_name": work.get("venue"), "host_organization_name": None, "type": "journal"},
        "version": "submittedVersion" if own.get("type") == "preprint" else "publishedVersion",
        "raw_type": work.get("kind", "journal-article"),
    }
    archive = [
        {"id": f"pmh:oai:arXiv.org:{work['arxiv']['id']}", "landing_page_url": f"https://arxiv.org/abs/{work['arxiv']['id']}",
         "source": {"display_name": "arXiv", "type": "repository"}, "version": "submittedVersion"}
    ] if "arxiv" in work else []  # fmt: skip
    return {
        "id": None if own.get("no_id") else name,
        "doi": doi,
        "title": title,
        "display_name": title,
        "publication_year": int(own["date"][:4]),
        "publication_date": own["date"],
        "ids": {"openalex": name, **({"doi": doi} if doi else {})},
        "language": work.get("language", "en"),
        "primary_location": location,
        "type": own.get("type", "article"),
        "authorships": [
            {
                "author_position": "middle",
                "author": {"id": None, "display_name": name},
                "raw_author_name": name,
            }
            for name in work["authors"]
        ],
        "is_retracted": own.get("retracted", False),
        "is_paratext": False,
        "is_xpac": False,
        "biblio": {"volume": None, "issue": None, "first_page": None, "last_page": None},
        "locations": [location, *archive],
        "referenced_works": [],
        "abstract_inverted_index": _inverted(work["abstract"]),
    }


def _inverted(abstract: str) -> dict[str, list[int]]:
    places: dict[str, list[int]] = {}
    for place, word in enumerate(abstract.split()):
        places.setdefault(word, []).append(place)
    return places


# --- Crossref --------------------------------------------------------------------


def crossref_page(works: list[dict[str, Any]]) -> bytes:
    """Return a work list that holds all there is."""
    head = {"status": "ok", "message-type": "work-list", "message-version": "1.0.0"}
    message = {"facets": {}, "total-results": len(works), "items-per-page": 100}
    inner = _lines(message, "items", [_crossref(work) for work in works]).decode()
    return (json.dumps(head)[:-1] + ', "message": ' + inner.rstrip() + "}\n").encode()


def _crossref(work: dict[str, Any]) -> dict[str, Any]:
    own = work["crossref"]
    dates = {f"published-{kind}": own[kind] for kind in ("online", "print") if kind in own}
    dates |= {"posted": own["posted"]} if "posted" in own else {}
    created = [int(part) for part in own["created"].split("-")]
    relation = {
        name: [{"id-type": "doi", "id": own[key], "asserted-by": "subject"}]
        for name, key in (("has-preprint", "has_preprint"), ("is-preprint-of", "preprint_of"))
        if key in own
    }
    item = {
        "DOI": work["doi"],
        "URL": f"https://doi.org/{work['doi']}",
        "type": work.get("kind", "journal-article"),
        "title": [escape(work["title"]) if "<script>" not in work["title"] else work["title"].replace("& 2 < 3", "&amp; 2 &lt; 3")],
        "abstract": f"<jats:p>{escape(work['abstract'])}</jats:p>",
        "author": [_author(name) for name in work["authors"]],
        "container-title": [escape(work["venue"])] if "posted" not in own else [],
        "publisher": "Invented Press",
        **({"subtype": "preprint", "institution": [{"name": work["venue"]}]} if "posted" in own else {}),
        "issued": {"date-parts": [min(dates.values())]},
        "published": {"date-parts": [min(dates.values())]},
        **{name: {"date-parts": [parts]} for name, parts in dates.items()},
        "created": {"date-parts": [created], "date-time": f"{own['created']}T08:00:00Z"},
        "relation": relation,
    }  # fmt: skip
    if "retracted_by" in own:
        item["updated-by"] = [
            {"DOI": own["retracted_by"], "type": "retraction", "label": "Retraction", "source": "publisher",
             "updated": {"date-parts": [[2016, 2, 9]]}}
        ]  # fmt: skip
    return item


def _author(name: str) -> dict[str, str]:
    given, _, family = name.rpartition(" ")
    return {"given": given, "family": family, "sequence": "additional"}


def _lines(head: dict[str, Any], name: str, items: list[dict[str, Any]]) -> bytes:
    """Return a JSON object whose items stand one on a line, so that a difference can be read."""
    rows = ",\n".join(json.dumps(item, ensure_ascii=False, separators=(",", ":")) for item in items)
    return (json.dumps(head)[:-1] + f', "{name}": [\n{rows}\n]}}\n').encode()


# --- arXiv -----------------------------------------------------------------------


def arxiv_feed(works: list[dict[str, Any]]) -> bytes:
    """Return a feed of one page."""
    entries = "".join(_entry(work) for work in works)
    return (
        "<?xml version='1.0' encoding='UTF-8'?>\n"
        '<feed xmlns:opensearch="http://a9.com/-/spec/opensearch/1.1/"'
        ' xmlns:arxiv="http://arxiv.org/schemas/atom" xmlns="http://www.w3.org/2005/Atom">\n'
        "<id>https://arxiv.org/api/demo</id><title>arXiv Query</title><updated>2026-11-25T00:00:00Z</updated>\n"
        f"<opensearch:itemsPerPage>100</opensearch:itemsPerPage><opensearch:totalResults>{len(works)}"
        f"</opensearch:totalResults><opensearch:startIndex>0</opensearch:startIndex>\n{entries}</feed>\n"
    ).encode()


def _entry(work: dict[str, Any]) -> str:
    own = work["arxiv"]
    address = f"http://arxiv.org/abs/{own['id']}v{own['version']}" if own["id"] else "urn:unnumbered"
    people = "".join(f"<author><name>{escape(name)}</name></author>" for name in work["authors"])
    doi = f"<arxiv:doi>{work['doi']}</arxiv:doi>" if own.get("doi") else ""
    return (
        f"<entry><id>{address}</id><title>{escape(work['title'])}</title>"
        f"<updated>{own.get('updated', own['submitted'])}</updated><published>{own['submitted']}</published>"
        f'<summary>{escape(work["abstract"])}</summary><category term="physics.app-ph"/>{people}{doi}</entry>\n'
    )


# --- EPO OPS ---------------------------------------------------------------------


def ops_search(members: list[tuple[dict[str, Any], dict[str, Any]]]) -> bytes:
    """Return a search answer with the documents (patent, member) found."""
    documents = "".join(_document(patent, member) for patent, member in members)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<ops:world-patent-data {OPS}>\n'
        f'<ops:biblio-search total-result-count="{len(members)}"><ops:query syntax="CQL">demo</ops:query>'
        f'<ops:range begin="1" end="{len(members)}"/><ops:search-result><exchange-documents>\n{documents}'
        "</exchange-documents></ops:search-result></ops:biblio-search>\n</ops:world-patent-data>\n"
    ).encode()


def ops_family(patent: dict[str, Any]) -> bytes:
    """Return the look-up of a family: all its members."""
    members = "".join(
        f'<ops:family-member family-id="{patent["family"]}">{_published(member)}{_applied(member)}'
        f"{_claimed(patent)}\n{_document(patent, member)}</ops:family-member>\n"
        for member in patent["members"]
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<ops:world-patent-data {OPS}>\n'
        f'<ops:patent-family legal="false" total-result-count="{len(patent["members"])}">\n{members}'
        "</ops:patent-family>\n</ops:world-patent-data>\n"
    ).encode()


def ops_documents(members: list[tuple[dict[str, Any], dict[str, Any]]]) -> bytes:
    """Return the documents (patent, member) asked for by number."""
    documents = "".join(_document(patent, member) for patent, member in members)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<ops:world-patent-data {OPS}>\n'
        f"<exchange-documents>\n{documents}</exchange-documents>\n</ops:world-patent-data>\n"
    ).encode()


def ops_nothing() -> bytes:
    """Return the fault that means: nothing matches."""
    return (
        b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<fault xmlns="http://ops.epo.org">'
        b"<code>SERVER.EntityNotFound</code><message>No results found</message></fault>\n"
    )


def _id(country: str, number: str, kind: str, date: str) -> str:
    day = f"<date>{date.replace('-', '')}</date>" if date else ""
    return (
        f'<document-id document-id-type="docdb"><country>{country}</country><doc-number>{number}</doc-number>'
        f"<kind>{kind}</kind>{day}</document-id>"
    )


def _published(member: dict[str, Any]) -> str:
    number = _id(member["country"], member["number"], member["kind"], member["date"] or "00000000")
    return f"<publication-reference>{number}</publication-reference>"


def _applied(member: dict[str, Any]) -> str:
    country, kind = member.get("country_filed", member["country"]), member.get("kind_filed", "A")
    number = _id(country, member["application"], kind, member["filed"])
    return f"<application-reference>{number}</application-reference>"


def _claimed(patent: dict[str, Any]) -> str:
    claim = patent["priority"]
    number = _id(claim.get("country", "US"), claim["number"], claim["kind"], claim["date"])
    active = "<priority-active-indicator>YES</priority-active-indicator>"
    return f'<priority-claim sequence="1" kind="national">{number}{active}</priority-claim>'


def _document(patent: dict[str, Any], member: dict[str, Any]) -> str:
    symbols = "".join(
        f'<patent-classification><classification-scheme office="EP" scheme="CPCI"/>'
        f"<section>{cpc[0]}</section><class>{cpc[1:3]}</class><subclass>{cpc[3]}</subclass>"
        f"<main-group>{cpc[5:].split('/')[0]}</main-group><subgroup>{cpc.split('/')[1]}</subgroup>"
        "</patent-classification>"
        for cpc in patent["cpc"]
    )
    parties = "".join(
        f"<{role}s>"
        + "".join(
            f'<{role} sequence="{place}" data-format="epodoc"><{role}-name><name>{escape(name)} [{member["country"]}]</name>'
            f"</{role}-name></{role}>"
            for place, name in enumerate(patent[f"{role}s"], 1)
        )
        + f"</{role}s>"
        for role in ("applicant", "inventor")
    )
    german = (
        f'<invention-title lang="de">{patent["title_de"]}</invention-title>' if "title_de" in patent else ""
    )
    return (
        f'<exchange-document system="ops.epo.org" family-id="{patent["family"]}" country="{member["country"]}"'
        f' doc-number="{member["number"]}" kind="{member["kind"]}"><bibliographic-data>{_published(member)}'
        f"<patent-classifications>{symbols}</patent-classifications>{_applied(member)}"
        f"<priority-claims>{_claimed(patent)}</priority-claims><parties>{parties}</parties>{german}"
        f'<invention-title lang="en">{escape(patent["title"])}</invention-title></bibliographic-data>'
        f'<abstract lang="en"><p>{escape(patent["abstract"])}</p></abstract></exchange-document>\n'
    )
