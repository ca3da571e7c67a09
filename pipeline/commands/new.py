"""`antedate new`: a folder to fill in."""

from __future__ import annotations

from argparse import Namespace

from pipeline.matter import new_matter


def new(args: Namespace) -> int:
    """Write the folder and say what to do with it."""
    target = new_matter(args.matter)
    print(f"wrote {target}; its notes say what goes where")
    print(f"fill it in, put files you have (.ris .bib .json .csv) into {args.matter / 'handed-in'}, then:")
    print(f"  antedate plan {args.matter}    what would be sent, word for word")
    print(f"  antedate run {args.matter}")
    return 0
