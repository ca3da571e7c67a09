"""The sources, in the order they are shown."""

from __future__ import annotations

from connectors import (
    arxiv,
    crossref,
    datacite,
    epo_ops,
    europepmc,
    openalex,
    openverse,
    semanticscholar,
    uspto_bulk,
    uspto_odp,
    web,
    web_archive,
    wikimedia,
)
from connectors.connector import ByNumber, Connector, Reader

# One line each, so that the type checker names what a connector lacks.
OPENALEX: Connector = openalex
CROSSREF: Connector = crossref
ARXIV: Connector = arxiv
EUROPEPMC: Connector = europepmc
DATACITE: Connector = datacite
SEMANTICSCHOLAR: Connector = semanticscholar
EPO_OPS: Connector = epo_ops
USPTO_BULK: Connector = uspto_bulk
USPTO_ODP: Connector = uspto_odp
WIKIMEDIA: Connector = wikimedia
OPENVERSE: Connector = openverse

CONNECTORS = (
    OPENALEX,
    CROSSREF,
    ARXIV,
    EUROPEPMC,
    DATACITE,
    SEMANTICSCHOLAR,
    EPO_OPS,
    USPTO_ODP,
    USPTO_BULK,
    WIKIMEDIA,
    OPENVERSE,
)
BY_NAME = {connector.SOURCE.name: connector for connector in CONNECTORS}

# Those that can be asked for documents by number.
_BY_NUMBER: tuple[ByNumber, ...] = (
    openalex,
    crossref,
    arxiv,
    europepmc,
    datacite,
    semanticscholar,
    epo_ops,
    uspto_odp,
    uspto_bulk,
)
# Of these, the ones whose records say what a document cites.
STATES_CITATIONS = frozenset({"openalex", "crossref", "epo_ops", "uspto_bulk"})
BY_NUMBER = {source.SOURCE.name: source for source in _BY_NUMBER}
SOURCE_NAMES = tuple(BY_NAME)

# Asked about addresses the user points at, never by a sweep.
WEB: Reader = web
WEB_ARCHIVE: Connector = web_archive
POINTED_AT = (WEB, WEB_ARCHIVE)
READERS: dict[str, Reader] = {**BY_NAME, **{reader.SOURCE.name: reader for reader in POINTED_AT}}
