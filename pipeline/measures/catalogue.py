"""Every measure, in the order they run."""

from pipeline.measures.chambers.chamber_carry_over import CHAMBER_CARRY_OVER
from pipeline.measures.chambers.cycle_length import CYCLE_LENGTH
from pipeline.measures.chambers.dryer_calibration import DRYER_CALIBRATION
from pipeline.measures.chambers.utilisation import UTILISATION
from pipeline.measures.follow_up.outcome_ladder import OUTCOME_LADDER
from pipeline.measures.follow_up.recheck_interval import RECHECK_INTERVAL
from pipeline.measures.follow_up.repairs_avoided import REPAIRS_AVOIDED
from pipeline.measures.follow_up.time_to_failure import TIME_TO_FAILURE
from pipeline.measures.measure import Measure
from pipeline.measures.moisture.moisture_centile import MOISTURE_CENTILE
from pipeline.measures.moisture.moisture_contrast import MOISTURE_CONTRAST
from pipeline.measures.moisture.moisture_distribution import MOISTURE_DISTRIBUTION
from pipeline.measures.records.analysis_set import ANALYSIS_SET
from pipeline.measures.records.attention_item import ATTENTION_ITEM
from pipeline.measures.records.condition_agreement import CONDITION_AGREEMENT
from pipeline.measures.records.data_quality import DATA_QUALITY
from pipeline.measures.records.measurement_repeatability import MEASUREMENT_REPEATABILITY
from pipeline.measures.recovery.claim_check import CLAIM_CHECK
from pipeline.measures.recovery.graded_rate import GRADED_RATE
from pipeline.measures.recovery.rescue_by_delay import RESCUE_BY_DELAY
from pipeline.measures.recovery.rescue_model import RESCUE_MODEL
from pipeline.measures.recovery.rescue_rate import RESCUE_RATE
from pipeline.measures.routine_drying.routine_drying import ROUTINE_DRYING
from pipeline.measures.routine_drying.routine_drying_baseline import ROUTINE_DRYING_BASELINE
from pipeline.measures.routine_drying.routine_drying_before_after import ROUTINE_DRYING_BEFORE_AFTER
from pipeline.measures.routine_drying.routine_drying_verdict import ROUTINE_DRYING_VERDICT
from pipeline.measures.routine_drying.stopped_aid import STOPPED_AID
from pipeline.measures.sites.monthly_trend import MONTHLY_TREND
from pipeline.measures.sites.site_comparison import SITE_COMPARISON

MEASURES: tuple[Measure, ...] = (
    CONDITION_AGREEMENT,
    ANALYSIS_SET,
    MEASUREMENT_REPEATABILITY,
    RESCUE_RATE,
    RESCUE_MODEL,
    RESCUE_BY_DELAY,
    MOISTURE_DISTRIBUTION,
    MOISTURE_CONTRAST,
    MOISTURE_CENTILE,
    DRYER_CALIBRATION,
    CHAMBER_CARRY_OVER,
    UTILISATION,
    CYCLE_LENGTH,
    TIME_TO_FAILURE,
    RECHECK_INTERVAL,
    REPAIRS_AVOIDED,
    OUTCOME_LADDER,
    CLAIM_CHECK,
    GRADED_RATE,
    MONTHLY_TREND,
    ROUTINE_DRYING,
    ROUTINE_DRYING_VERDICT,
    ROUTINE_DRYING_BASELINE,
    ROUTINE_DRYING_BEFORE_AFTER,
    STOPPED_AID,
    DATA_QUALITY,
    SITE_COMPARISON,
    ATTENTION_ITEM,
)
