"""PURE. A class as figures and sentences, worked out once; everything shown after a tap or a class is laid out from here."""
