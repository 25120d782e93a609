"""The surface and its cloth: even light, glare, weave, and the surface with its weave taken out."""
