"""Orchestral score in, two-staff piano draft out, with a reason for every choice."""

__version__ = "0.1.0"
