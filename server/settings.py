"""Settings: one table of names, defaults and help. Read from ISOKOM_* variables; command options win."""

from pathlib import Path

import platformdirs
from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


def default_database() -> Path:
    """The bench book's file in the user's own data folder."""
    return Path(platformdirs.user_data_dir("isokom")) / "bench-book.db"


class Settings(BaseSettings):
    """Everything a person may set from outside."""

    model_config = SettingsConfigDict(env_prefix="ISOKOM_", extra="ignore")

    database: Path = Field(default_factory=default_database, description="SQLite file that holds the bench book")
    host: str = Field(default="127.0.0.1", description="address to listen on")
    port: int = Field(default=8719, ge=0, le=65535, description="port to listen on; 0 takes a free one")
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
    max_body_bytes: int = Field(default=1_000_000, description="largest request body accepted")
    max_package_bytes: int = Field(default=300_000_000, description="largest data package that is brought in")
