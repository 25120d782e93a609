"""What a person does: log a build, take in a photo, size a finding, ask why, close it, learn."""
