"""Arithmetic of laminates, resin and vacuum bags."""
