"""Records become references: which records speak of one document, which of one work, and why.

Two steps. `links` decides pairs of records, and only pairs that touch something new; `group`
turns all pairs into references and versions. Both are functions over Arrow tables.
"""

from pipeline.resolve.grouping import group
from pipeline.resolve.linking import links

__all__ = ["group", "links"]
