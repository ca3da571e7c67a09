"""The commands: one file a group; each reads, prints and returns the exit code."""
