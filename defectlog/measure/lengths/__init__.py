"""From pixels to millimetres: the card, its plane, what was drawn by hand, the photo before."""
