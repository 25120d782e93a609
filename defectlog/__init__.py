"""Turn each demould into evidence: photograph, size, explain and learn from laminate defects."""

__version__ = "0.1.0"
