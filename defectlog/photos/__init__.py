"""Image files: originals kept as they came, smaller copies beside them."""
