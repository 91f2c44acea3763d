"""PURE. The forecast: a mixed model of the splits of one part."""
