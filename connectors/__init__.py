"""Whom to ask: one file a source, the polite session, the one loop that fetches."""
