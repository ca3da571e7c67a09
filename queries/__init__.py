"""What to ask: concepts, the forms of a term, boolean expressions, sweeps. Pure; no I/O."""
