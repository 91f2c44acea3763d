"""What years of classes answer: one athlete, two classes beside each other, a coach's view over weeks."""

from floorclock.insight.as_json import as_json
from floorclock.insight.athlete import athlete_page
from floorclock.insight.compare import compare
from floorclock.insight.trends import WEEKS_SHOWN, trends

__all__ = ["WEEKS_SHOWN", "as_json", "athlete_page", "compare", "trends"]
