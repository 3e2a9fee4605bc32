"""Formulas: saturation, subcooling and superheat, atmosphere, uncertainty, those of each stage.

Pure; numpy, and psychrolib for moist air. Only the table builder imports CoolProp.
"""
