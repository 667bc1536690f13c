"""A practice bench: a board with a hidden fault that answers as a real meter, supply and pair of hands would.

It runs as a process of its own (``python -m ohmwright.practice``) and shares neither the solver nor the
parameter ranges of the program that is being practised with; only the names of kinds of parts are common.
"""
