"""Numbers in, charts' limits and signals out."""
