"""Every measure's table, in the order the measures are counted."""

from schemas.declare import Table
from schemas.measures.analysis_set import AnalysisSet
from schemas.measures.attention_item import AttentionItem
from schemas.measures.chamber_carry_over import ChamberCarryOver
from schemas.measures.claim_check import ClaimCheck
from schemas.measures.condition_agreement import ConditionAgreement
from schemas.measures.cycle_length import CycleLength
from schemas.measures.data_quality import DataQuality
from schemas.measures.dryer_calibration import DryerCalibration
from schemas.measures.graded_rate import GradedRate
from schemas.measures.measurement_repeatability import MeasurementRepeatability
from schemas.measures.moisture_centile import MoistureCentile
from schemas.measures.moisture_contrast import MoistureContrast
from schemas.measures.moisture_distribution import MoistureDistribution
from schemas.measures.monthly_trend import MonthlyTrend
from schemas.measures.outcome_ladder import OutcomeLadder
from schemas.measures.recheck_interval import RecheckInterval
from schemas.measures.repairs_avoided import RepairsAvoided
from schemas.measures.rescue_by_delay import RescueByDelay
from schemas.measures.rescue_model import RescueModel
from schemas.measures.rescue_rate import RescueRate
from schemas.measures.routine_drying import RoutineDrying
from schemas.measures.routine_drying_baseline import RoutineDryingBaseline
from schemas.measures.routine_drying_before_after import RoutineDryingBeforeAfter
from schemas.measures.routine_drying_verdict import RoutineDryingVerdict
from schemas.measures.site_comparison import SiteComparison
from schemas.measures.stopped_aid import StoppedAid
from schemas.measures.time_to_failure import TimeToFailure
from schemas.measures.utilisation import Utilisation

MEASURES: dict[str, type[Table]] = {
    "condition_agreement": ConditionAgreement,
    "analysis_set": AnalysisSet,
    "measurement_repeatability": MeasurementRepeatability,
    "rescue_rate": RescueRate,
    "rescue_model": RescueModel,
    "rescue_by_delay": RescueByDelay,
    "moisture_distribution": MoistureDistribution,
    "moisture_contrast": MoistureContrast,
    "moisture_centile": MoistureCentile,
    "dryer_calibration": DryerCalibration,
    "chamber_carry_over": ChamberCarryOver,
    "utilisation": Utilisation,
    "cycle_length": CycleLength,
    "time_to_failure": TimeToFailure,
    "recheck_interval": RecheckInterval,
    "repairs_avoided": RepairsAvoided,
    "outcome_ladder": OutcomeLadder,
    "claim_check": ClaimCheck,
    "graded_rate": GradedRate,
    "monthly_trend": MonthlyTrend,
    "routine_drying": RoutineDrying,
    "routine_drying_verdict": RoutineDryingVerdict,
    "routine_drying_baseline": RoutineDryingBaseline,
    "routine_drying_before_after": RoutineDryingBeforeAfter,
    "stopped_aid": StoppedAid,
    "data_quality": DataQuality,
    "site_comparison": SiteComparison,
    "attention_item": AttentionItem,
}
