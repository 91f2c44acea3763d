"""What years of classes answer: one athlete, two classes beside each other, a coach's view over weeks."""

from floorclock.insight.as_json import as_json
from floorclock.insight.athlete import AthletePage, athlete_page
from floorclock.insight.compare import Comparison, compare
from floorclock.insight.trends import WEEKS_SHOWN, Trends, trends
from floorclock.insight.whose import who_is_meant

__all__ = [
    "WEEKS_SHOWN",
    "AthletePage",
    "Comparison",
    "Trends",
    "as_json",
    "athlete_page",
    "compare",
    "trends",
    "who_is_meant",
]
