"""Export file: every version of every file a clinic dropped, and what became of it."""

from schemas import vocabulary as words
from schemas.declare import Table, column


class ExportFile(Table):
    """One row per version of an export file: one name with one content.

    Key: file_id.
    """

    file_id: str = column("The version: a hash of the file's name and content.", required=True)
    file: str = column(
        "Folder and name, as table and date; otherwise the table and a hash.", required=True
    )
    site_id: str = column("The clinic; null for reference tables.")
    table_name: str = column("The table it holds; null where its name tells none.")
    sha256: str = column("Hash of its bytes; null where it could not be read.")
    bytes: int = column("Size of the file.", unit="bytes", ge=0)
    first_seen_run: str = column("The run that saw it first.", required=True)
    superseded_by: str = column("The version that replaced it; null while in force.")
    status: str = column(
        "What became of it at the last run.", vocabulary=words.FILE_STATUS, required=True
    )
    message: str = column("Why it was refused, held or not loaded, and what to do.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "export_file"
        metadata = {"key": ("file_id",)}  # noqa: RUF012
