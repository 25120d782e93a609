"""Patches some tows wide that differ as a whole: dry spots, matt cloth."""
