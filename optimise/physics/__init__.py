"""Formulas with their sources: oil, lines, pump, engine, cylinder, strength, heat, work."""
