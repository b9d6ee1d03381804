"""Builds, checks and caches the property tables the core reads. The only place that knows CoolProp.

`coolprop` asks CoolProp, `sweep` decides which of its answers to believe, `build` makes tables of
them, `tables` keeps the result on disk, `commands` prints.
"""
