"""The judge: an examination of the diagnosis engine that shares no parameter law with it.

Nothing in the program imports this package. It reaches the engine only through its public answers, and it
takes the truth from an outside circuit simulator, from boards, laws and faults of its own.
"""
