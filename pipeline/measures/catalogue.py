"""Every measure, in the order they run."""

from pipeline.measures.measure import Measure
from pipeline.measures.measurement_repeatability import MEASUREMENT_REPEATABILITY
from pipeline.measures.rescue_rate import RESCUE_RATE

MEASURES: tuple[Measure, ...] = (MEASUREMENT_REPEATABILITY, RESCUE_RATE)
