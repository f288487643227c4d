"""From a vehicle's readings to places with doubt, and to the points of the tubes that they place."""

from plumbend.survey.adjusting import Survey, kept_readings, survey
from plumbend.survey.placing import placed
from plumbend.survey.report import frame_report

__all__ = ["Survey", "frame_report", "kept_readings", "placed", "survey"]
