"""Maintenance records dictated at the job: offline, traceable, confirmed by a person."""

__version__ = "0.1.0"
