"""Verdicts and lessons for people and programs: text at a terminal, tablature, JSON."""
