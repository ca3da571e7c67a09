"""One file a format; each turns listed references into bytes."""
