"""A recorded class on the whole screen: at a glance, as a picture of rest, athlete by athlete, results, effort and load.

Invariant: it reads a class and changes one thing only, the effort ratings, and those through the class's own journal.
"""
