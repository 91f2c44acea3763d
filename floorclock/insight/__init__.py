"""What years of classes answer: one athlete, two classes beside each other, a coach's view over weeks."""

from floorclock.insight.athlete import AthletePage, athlete_page
from floorclock.insight.athlete_as_json import athlete_json
from floorclock.insight.compare import Comparison, compare
from floorclock.insight.compare_as_json import compare_json
from floorclock.insight.trends import WEEKS_SHOWN, Trends, trends
from floorclock.insight.trends_as_json import trends_json
from floorclock.insight.whose import who_is_meant

__all__ = [
    "WEEKS_SHOWN",
    "AthletePage",
    "Comparison",
    "Trends",
    "athlete_json",
    "athlete_page",
    "compare",
    "compare_json",
    "trends",
    "trends_json",
    "who_is_meant",
]
