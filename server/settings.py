"""Settings: one table of names, defaults and help. Read from ISOKOM_* variables; command options win."""

from pathlib import Path

import platformdirs
from pydantic import Field, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

ADDRESSES = ("postgresql://", "postgresql+psycopg://", "sqlite:///")


def default_database() -> Path:
    """The bench book's file in the user's own data folder."""
    return Path(platformdirs.user_data_dir("isokom")) / "bench-book.db"


class Settings(BaseSettings):
    """Everything a person may set from outside."""

    model_config = SettingsConfigDict(env_prefix="ISOKOM_", env_ignore_empty=True, extra="ignore")

    database: Path = Field(default_factory=default_database, description="SQLite file that holds the bench book")
    database_url: str | None = Field(default=None, repr=False, description="address of a PostgreSQL database that holds the bench book instead of a file")
    host: str = Field(default="127.0.0.1", description="address to listen on")
    port: int = Field(default=8719, ge=0, le=65535, description="port to listen on; 0 takes a free one")
    processes: int = Field(default=1, ge=1, le=64, description="server processes behind the one address; more than one needs a bench book in PostgreSQL")
    lan: bool = Field(default=False, description="also serve tablets on the local network, over HTTPS")
    lan_name: str | None = Field(default=None, pattern=r"^[a-z0-9]([a-z0-9.-]{0,60}[a-z0-9])?$", description="name of this machine on the local network; kept once it was used")
    lan_port: int | None = Field(default=None, ge=1, le=65535, description="port for tablets; kept once it was used (first time 8729)")
    help_port: int = Field(default=8730, ge=0, le=65535, description="port of the plain page that explains how to trust the certificate")
    certificate: Path | None = Field(default=None, description="a certificate of your own (PEM with chain) instead of Isokom's")
    private_key: Path | None = Field(default=None, description="its private key (PEM)")
    ca_without_limits: bool = Field(default=False, description="leave the name limits out of the authority, for a device that refuses them")
    backup_folder: Path | None = Field(default=None, description="where backups go; a folder beside the bench book when not named")
    backup_every_hours: float = Field(default=6, ge=0, le=24 * 30, description="how often a backup is made while something arrives; 0 for never")
    allowed_hosts: list[str] = Field(default=[], description="further names under which this desk may be opened, as behind a proxy")
    max_body_bytes: int = Field(default=1_000_000, ge=1_000, description="largest request body accepted")
    max_package_bytes: int = Field(default=300_000_000, ge=1_000, description="largest data package that is brought in")

    @field_validator("database_url")
    @classmethod
    def _is_an_address(cls, given: str | None) -> str | None:
        """An address that a bench book can be at; nothing given counts as none."""
        if given and not given.startswith(ADDRESSES):
            raise ValueError("a bench book is kept at postgresql://host/database or sqlite:///file, and nowhere else")
        return given or None

    @property
    def file(self) -> Path:
        """The file of the bench book; beside it lie certificates and backups, also where the book itself is elsewhere."""
        return Path(self.database_url.removeprefix("sqlite:///")) if self.database_url and self.database_url.startswith("sqlite:///") else self.database

    @property
    def is_file(self) -> bool:
        """Whether the book is a file at all."""
        return not self.database_url or self.database_url.startswith("sqlite:///")
