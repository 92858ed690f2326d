"""Every audit table; data quality is a measure and listed with the measures."""

from schemas.audit.contract_rule import ContractRule
from schemas.audit.correction import Correction
from schemas.audit.export_file import ExportFile
from schemas.audit.measure_run import MeasureRun
from schemas.audit.quarantined_row import QuarantinedRow
from schemas.audit.refresh_change import RefreshChange
from schemas.audit.refresh_run import RefreshRun
from schemas.audit.refused_value import RefusedValue
from schemas.audit.row_account import RowAccount
from schemas.audit.setting import Setting
from schemas.declare import Table

AUDIT: dict[str, type[Table]] = {
    "export_file": ExportFile,
    "row_account": RowAccount,
    "quarantined_row": QuarantinedRow,
    "refused_value": RefusedValue,
    "refresh_run": RefreshRun,
    "measure_run": MeasureRun,
    "refresh_change": RefreshChange,
    "contract_rule": ContractRule,
    "correction": Correction,
    "setting": Setting,
}
