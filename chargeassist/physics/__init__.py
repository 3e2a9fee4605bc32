"""Formulas: saturation, subcooling and superheat, atmosphere, uncertainty. Pure; numpy only."""
