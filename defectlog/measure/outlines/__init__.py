"""Where an object ends and how large it is, below the size of a pixel."""
