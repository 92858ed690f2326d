"""Every fact and dimension, in the order the warehouse fills them."""

from schemas.declare import Table
from schemas.facts.calibration_line import CalibrationLine
from schemas.facts.chamber_run import ChamberRun
from schemas.facts.climate_normal import ClimateNormal
from schemas.facts.comparison_plan import ComparisonPlan
from schemas.facts.device import Device
from schemas.facts.device_model import DeviceModel
from schemas.facts.dose_check import DoseCheck
from schemas.facts.dryer import Dryer
from schemas.facts.dryer_event import DryerEvent
from schemas.facts.episode import Episode
from schemas.facts.repeat_measurement import RepeatMeasurement
from schemas.facts.service_event import ServiceEvent
from schemas.facts.session import Session
from schemas.facts.session_aid import SessionAid
from schemas.facts.site import Site
from schemas.facts.visit_count import VisitCount

FACTS: dict[str, type[Table]] = {
    "site": Site,
    "climate_normal": ClimateNormal,
    "dryer": Dryer,
    "dryer_event": DryerEvent,
    "device_model": DeviceModel,
    "comparison_plan": ComparisonPlan,
    "dose_check": DoseCheck,
    "calibration_line": CalibrationLine,
    "repeat_measurement": RepeatMeasurement,
    "service_event": ServiceEvent,
    "visit_count": VisitCount,
    "chamber_run": ChamberRun,
    "session_aid": SessionAid,
    "session": Session,
    "episode": Episode,
    "device": Device,
}
