"""Arrays in, sizes and fractions out: the scale of a photo, its voids and their doubt."""
