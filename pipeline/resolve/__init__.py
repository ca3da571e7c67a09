"""Records become references: which records speak of one document, which of one work, and why.

Three steps, all functions over Arrow tables. `keys_of` says under what a record can be found
and depends on it alone; `candidates` and `links_of` decide the pairs that touch something new
(`links` does all that at once, in memory); `group` turns pairs into references and versions.
"""

from pipeline.resolve.candidates import MOST_BEARERS
from pipeline.resolve.grouping import group
from pipeline.resolve.linking import candidates, keys_of, links, links_of
from pipeline.resolve.profile import Shelf

__all__ = ["MOST_BEARERS", "Shelf", "candidates", "group", "keys_of", "links", "links_of"]
