"""Who is who: spellings of one person, and taking a person out of the records.

Invariant: journals keep every name as it was tapped; who is the same person stands in a file of its own and can be undone.
"""

from floorclock.people.doubles import Double
from floorclock.people.forget import forget, what_is_kept
from floorclock.people.known import doubles_of, known_names, nobody_called
from floorclock.people.register import canonical_names, keep_apart, merge, undo

__all__ = [
    "Double",
    "canonical_names",
    "doubles_of",
    "forget",
    "keep_apart",
    "known_names",
    "merge",
    "nobody_called",
    "undo",
    "what_is_kept",
]
