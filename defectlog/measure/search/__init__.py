"""The voids of a surface: beyond a threshold, on either side, joined to patches."""
