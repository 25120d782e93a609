"""Where voids may be, and what turns candidates down: hairs, creases, yarns, resin, pits, noise."""
