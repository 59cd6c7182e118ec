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

    model_config = SettingsConfigDict(env_prefix="ISOKOM_", extra="ignore")

    database: Path = Field(default_factory=default_database, description="SQLite file that holds the bench book")
    database_url: str | None = Field(default=None, repr=False, description="address of a PostgreSQL database that holds the bench book instead of a file")
    host: str = Field(default="127.0.0.1", description="address to listen on")
    port: int = Field(default=8719, ge=0, le=65535, description="port to listen on; 0 takes a free one")
    max_body_bytes: int = Field(default=1_000_000, description="largest request body accepted")
    max_package_bytes: int = Field(default=300_000_000, description="largest data package that is brought in")

    @field_validator("database_url")
    @classmethod
    def _is_an_address(cls, given: str | None) -> str | None:
        """An address that a bench book can be at; nothing given counts as none."""
        if given and not given.startswith(ADDRESSES):
            raise ValueError("a bench book is kept at postgresql://host/database or sqlite:///file, and nowhere else")
        return given or None
