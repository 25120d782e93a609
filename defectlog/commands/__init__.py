"""The commands of `defectlog`, one file for each thing a person asks for."""
